"""Takes a backup of a data folder while the bot runs.

Rules of this file:
- the database is copied as it stood at one moment, by SQLite's own online backup; nobody who writes waits for it. The
  journal of receipts is read at the same moment, and every other file after it: what the bot learned of a platform is
  never older than how far it says that it has read there;
- the copy is checked before anything else is done with it: of a damaged database there is no backup;
- the key is not in it; its fingerprint is, so that years later it can be told which key opens which backup;
- beside it lies a copy of the list of those who were forgotten, for the day on which the machine is lost;
- a backup has its name when it is whole and on the disk, not before. What a kill leaves is a draft, which the next
  backup clears away.
"""

import fcntl
import os
import shutil
import tarfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from triagebot import __version__
from triagebot.delivery.process_lock import LOCK
from triagebot.delivery.writer import JOURNAL
from triagebot.errors import StoreError
from triagebot.keeping.backup_file import EncryptingFile, fingerprint
from triagebot.keeping.words import say
from triagebot.store import DATABASE, errors
from triagebot.store.data_folder import PATIENCE
from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.engines import sqlite
from triagebot.store.forgotten_file import BESIDE_BACKUPS, add_forgotten, forgotten_file, forgotten_ids
from triagebot.store.key_file import read_keys
from triagebot.store.whole_file import PRIVATE, keep_name

#: In the data folder: where the copy is made and checked. Beside a backup: one that is not whole yet.
STAGE, DRAFT = ".backup", ".backup-draft"
#: What a backup is called that goes into a folder of them, by its moment in UTC; the order of names is that of time.
NAME, NAMED = "triagebot-%Y%m%dT%H%M%SZ.backup", "triagebot-*Z.backup"


@dataclass(frozen=True, slots=True)
class Taken:
    """A backup: where it is, its size (bytes), which key opens it, and which older ones had to go for it."""

    file: Path
    size: int
    key: str
    dropped: tuple[Path, ...] = ()


def take_backup(
    folder: Path, key_file: Path, file: Path, now: datetime, *, force: bool = False, keep: int | None = None
) -> Taken:
    """Writes a backup of `folder` to `file`; into it under a name of its own, where it is a folder: then the newest
    `keep` stay there (all, if None).

    Raises StoreError, with `file` as it was, when there is nothing to back up, the database is damaged, the key is not
    the right one, or the file cannot be written.
    """
    if not (folder / DATABASE).is_file():
        raise StoreError(say("backup-nothing", folder=folder))
    many = file.is_dir()
    file = file / now.astimezone(UTC).strftime(NAME) if many else file
    if file.resolve().is_relative_to(folder.resolve()):
        raise StoreError(say("backup-inside", file=file, folder=folder))
    if file.exists() and not force:
        raise StoreError(say("backup-exists", file=file))
    key = read_keys(key_file, folder)[0]
    try:
        with locked_folder(folder / STAGE) as stage:
            schema = _copy(folder, stage, key_file)
            with _draft(file, force=force) as out:
                encrypting = EncryptingFile(out, key, now.astimezone(UTC).isoformat(), __version__, schema)
                with tarfile.open(fileobj=encrypting, mode="w|", format=tarfile.PAX_FORMAT) as archive:  # type: ignore[call-overload]
                    archive.add(stage, "", filter=_nameless)
                encrypting.close()
        known = forgotten_ids(forgotten_file(key_file))
        add_forgotten(file.with_name(BESIDE_BACKUPS), known, now.date())
        return Taken(file, file.stat().st_size, fingerprint(key), _drop_old(file.parent, keep) if many else ())
    except OSError as error:
        raise StoreError(say("backup-unwritable", file=file, why=error.strerror or error)) from error


def _drop_old(folder: Path, keep: int | None) -> tuple[Path, ...]:
    old = tuple(sorted(folder.glob(NAMED))[:-keep]) if keep else ()
    for each in old:
        each.unlink()
    return old


def _nameless(entry: tarfile.TarInfo) -> tarfile.TarInfo:
    """Whose files they were on this machine says nothing on another."""
    entry.uid = entry.gid = 0
    entry.uname = entry.gname = ""
    return entry


# --- the copy -----------------------------------------------------------------------------------------------------


def _copy(folder: Path, stage: Path, key_file: Path) -> str:
    """Copies what the folder holds into the stage, and checks it; gives the revision of the database."""
    database, copied = folder / DATABASE, stage / DATABASE

    def read_journal() -> None:
        if (folder / JOURNAL).is_file():
            shutil.copyfile(folder / JOURNAL, stage / JOURNAL)

    with sqlite.faults_told(database):
        sqlite.copy(database, copied, PATIENCE, read_journal)
        sqlite.check(database, copied)
        with closing(sqlite.connected(copied, PATIENCE)) as copy:
            schema: str = copy.execute("SELECT version_num FROM alembic_version").fetchone()[0]
            (proof,) = copy.execute("SELECT body FROM seals WHERE name = 'look-up'").fetchone() or ("",)
    try:
        Cipher(read_keys(key_file, folder), b"").decrypt(proof)
    except DecryptionError as error:
        raise errors.fault(database, errors.WRONG_KEY.format(file=key_file)) from error
    for path in _others(folder):
        _copy_other(path, stage / path.relative_to(folder))
    return schema


def _others(folder: Path) -> Iterator[Path]:
    """What else the data folder holds: no locks, no drafts, and nothing that belongs to a database beside it."""
    done = {DATABASE, JOURNAL, LOCK}
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            path = Path(place, name)
            ends = [end for end in sqlite.SIDECARS if name.endswith(end)]
            beside = any(path.with_name(name.removesuffix(end)).exists() for end in ends)
            known = path.parent == folder and (name in done or name.startswith(f"{DATABASE}.mov"))
            if not (name.startswith(".") or known or beside or path.is_symlink()) and path.is_file():
                yield path


def _copy_other(path: Path, to: Path) -> None:
    to.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with suppress(FileNotFoundError):  # it is gone since it was listed
        if sqlite.is_sqlite(path):
            with sqlite.faults_told(path):
                sqlite.copy(path, to, PATIENCE)
                sqlite.check(path, to)
        else:
            shutil.copyfile(path, to)
            to.chmod(PRIVATE)


# --- drafts -------------------------------------------------------------------------------------------------------


@contextmanager
def locked_folder(path: Path) -> Iterator[Path]:
    """An empty folder for this process alone, which goes at the end. One that a kill left is cleared first. Raises
    StoreError while another process has it."""
    path.mkdir(mode=0o700, exist_ok=True)
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    try:
        if not _lock(handle, path):
            raise StoreError(say("backup-running", folder=path.parent))
        for each in path.iterdir():
            shutil.rmtree(each) if each.is_dir() else each.unlink()
        yield path
        shutil.rmtree(path)
    except BaseException:
        if _lock(handle, path):
            shutil.rmtree(path, ignore_errors=True)
        raise
    finally:
        os.close(handle)


def _lock(handle: int, path: Path) -> bool:
    """Locks what was opened as `path`, and still has that name. A process that ends lets go of it."""
    with suppress(BlockingIOError, FileNotFoundError):
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return os.path.samestat(os.fstat(handle), path.stat())
    return False


@contextmanager
def _draft(file: Path, *, force: bool) -> Iterator[IO[bytes]]:
    """A file to write to, which has its name once it is whole and on the disk."""
    for left in file.parent.glob(f".*{DRAFT}"):
        _drop_draft(left)
    draft = file.with_name(f".{file.name}{DRAFT}")
    with os.fdopen(os.open(draft, os.O_CREAT | os.O_RDWR, PRIVATE), "r+b") as out:
        if not _lock(out.fileno(), draft):
            raise StoreError(say("backup-running", folder=file.parent))
        try:
            out.truncate(0)
            yield out
            out.flush()
            os.fsync(out.fileno())
            _name(draft, file, force=force)
        finally:
            draft.unlink(missing_ok=True)
    keep_name(file)


def _drop_draft(left: Path) -> None:
    """One that nobody writes to any more."""
    with suppress(OSError), left.open("rb") as file:
        if _lock(file.fileno(), left):
            left.unlink()


def _name(draft: Path, file: Path, *, force: bool) -> None:
    if force:
        draft.replace(file)
        return
    try:
        os.link(draft, file)  # not over a file that has come since
    except FileExistsError:
        raise StoreError(say("backup-exists", file=file)) from None
    except OSError:  # a file system without such links
        if file.exists():
            raise StoreError(say("backup-exists", file=file)) from None
        draft.replace(file)
