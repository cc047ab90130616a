"""Puts a backup back into an empty data folder.

Rules of this file:
- nothing is restored over anything: a folder that holds something is left alone;
- all of it is unpacked, checked, opened with the key and brought up to date in a folder within the data folder, and
  then moved to its place, the database last. Until then nobody can open the folder (see `store.data_folder`), and
  restoring once more begins anew;
- who was forgotten since is forgotten again: the list of it lies beside the key file, and a copy beside the backups;
- what was to be sent when the backup was made is set aside, not sent: most of it went out since. `triagebot letters`
  lists it;
- numbers go on a million further: numbers that were given since the backup are known to platforms, and in links.
"""

import os
import shutil
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from sqlalchemy import func, select

from triagebot.delivery.receipts import keep_receipts
from triagebot.delivery.writer import ReceiptJournal
from triagebot.errors import StoreError
from triagebot.keeping.backup import locked_folder
from triagebot.keeping.backup_file import DecryptingFile, Header, fingerprint, read_header
from triagebot.keeping.words import say
from triagebot.store import DATABASE, Transaction, errors, open_store
from triagebot.store.engines.sqlite import check
from triagebot.store.errors import RESTORING
from triagebot.store.forgetting import forget_again
from triagebot.store.forgotten_file import BESIDE_BACKUPS, forgotten_file, forgotten_ids
from triagebot.store.key_file import read_keys
from triagebot.store.migrations import NEWEST, REVISIONS
from triagebot.store.post import Post
from triagebot.store.tables import cases, outbox
from triagebot.store.whole_file import PRIVATE, keep_name

#: Why a message was set aside here.
RESTORED = "restored"
_FURTHER = 1_000_000
#: What a folder may hold that is empty.
_NOTHING = {"lost+found", RESTORING, f"{RESTORING}-check"}


@dataclass(frozen=True, slots=True)
class Restored:
    """What came of a backup: how many cases it holds, how many messages were set aside, the revision that its database
    had where it was an older one, and how many people and cases were forgotten again."""

    header: Header
    cases: int
    set_aside: int
    older: str | None
    forgotten: int


def restore_backup(file: Path, folder: Path, key_file: Path, *, only_check: bool = False) -> Restored:
    """Restores the backup `file` into `folder`; with `only_check`, does all but put it there.

    Raises StoreError, with nothing in the folder, when the folder holds something, no key opens the backup, or it is
    damaged or newer.
    """
    try:
        with file.open("rb") as source:
            head, header = read_header(source, file)
            if header.schema not in REVISIONS:
                raise StoreError(say("backup-newer", file=file, schema=header.schema, newest=NEWEST))
            keys = _keys(key_file, folder, header, file)
            content = DecryptingFile(source, file, keys, head, header)
            with _target(folder, only_check=only_check) as stage:
                _unpack(content, file, stage)
                done = _made_ready(stage, file, key_file, header)
                if not only_check:
                    _move(stage, folder)
                return done
    except OSError as error:
        place = error.filename or folder
        raise StoreError(say("restore-refused", place=place, why=error.strerror or error)) from error


def _keys(key_file: Path, folder: Path, header: Header, file: Path) -> tuple[bytes, ...]:
    if not key_file.exists():
        raise StoreError(say("restore-no-key", file=file, key=header.key, key_file=key_file))
    keys = read_keys(key_file, folder)
    held = [fingerprint(key) for key in keys]
    if header.key not in held:
        known = ", ".join(held)
        raise StoreError(say("restore-other-key", file=file, key=header.key, key_file=key_file, held=known))
    return keys


@contextmanager
def _target(folder: Path, *, only_check: bool) -> Iterator[Path]:
    """The folder within the data folder where all is made ready; folders that were made for it go again in the end,
    if nothing came of it."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    if folder.exists() and not folder.is_dir():
        raise errors.fault(folder, errors.NO_FOLDER)
    held = {path.name for path in folder.iterdir()} if folder.exists() else set[str]()
    cut_off = RESTORING in held and DATABASE not in held
    if not (held <= _NOTHING or cut_off) and not only_check:
        raise StoreError(say("restore-not-empty", folder=folder))
    stage = folder / RESTORING
    if only_check and folder.exists():
        stage = folder / f"{RESTORING}-check"
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        with locked_folder(stage) as locked:  # opening a store locks its folder, so that is another one
            (locked / "data").mkdir(mode=0o700)
            yield locked / "data"
    finally:
        for path in missing:
            with suppress(OSError):  # it is not empty: it was restored
                path.rmdir()


def _unpack(content: DecryptingFile, file: Path, stage: Path) -> None:
    try:
        with tarfile.open(fileobj=content, mode="r|") as archive:  # type: ignore[call-overload]
            for entry in archive:
                parts = PurePosixPath(entry.name).parts
                if entry.isdir():
                    continue
                inside = archive.extractfile(entry) if entry.isfile() else None
                if inside is None or not parts or ".." in parts or PurePosixPath(entry.name).is_absolute():
                    raise StoreError(say("backup-damaged", file=file))
                _write(inside, stage.joinpath(*parts))
    except tarfile.TarError as error:
        raise StoreError(say("backup-damaged", file=file)) from error
    content.finish()


def _write(inside: IO[bytes], path: Path) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE), "wb") as out:
        shutil.copyfileobj(inside, out)
        out.flush()
        os.fsync(out.fileno())


def _made_ready(stage: Path, file: Path, key_file: Path, header: Header) -> Restored:
    """Checks what was unpacked, brings it up to date, and settles what was under way."""
    if not (stage / DATABASE).is_file():
        raise StoreError(say("backup-damaged", file=file))
    check(file, stage / DATABASE)
    ids = forgotten_ids(forgotten_file(key_file)) | forgotten_ids(file.with_name(BESIDE_BACKUPS))
    with open_store(stage, key_file=key_file) as store:
        journal = ReceiptJournal(stage, store.cipher)
        try:
            with store.begin() as tx:
                keep_receipts(tx, journal.left_behind())
                forgotten = forget_again(tx, ids)
                store.database.skip_numbers(tx.connection, _FURTHER)
                set_aside = _settle(tx)
                count = tx.connection.scalar(select(func.count()).select_from(cases)) or 0
            journal.clear()
        finally:
            journal.close()
    return Restored(header, count, set_aside, None if header.schema == NEWEST else header.schema, forgotten)


def _settle(tx: Transaction) -> int:
    under_way = select(outbox.c.id).where(outbox.c.state.in_(("waiting", "sending"))).order_by(outbox.c.id)
    numbers = tx.connection.scalars(under_way).all()
    for number in numbers:
        Post(tx).failed(number, RESTORED)
    return len(numbers)


def _move(stage: Path, folder: Path) -> None:
    for entry in sorted(stage.iterdir(), key=lambda path: path.name == DATABASE):
        place = folder / entry.name
        if place.is_dir():  # what a restore that was cut off had moved already
            shutil.rmtree(place)
        for path in entry.rglob("*"):
            if path.is_dir():
                keep_name(path / "x")
        entry.replace(place)
        keep_name(place)
