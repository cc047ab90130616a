"""Opens the data folder: makes it when it is missing, brings its database up to date, leaves it alone when it cannot.

Everything that can be told without the database library is told before that is loaded.
"""

import fcntl
import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.store import errors
from triagebot.store.key_file import default_key_file
from triagebot.store.whole_file import PRIVATE

if TYPE_CHECKING:
    from triagebot.store.transactions import Store

DATABASE = "triagebot.sqlite3"
#: Where a backup is unpacked before it is moved to its place, the database last.
RESTORING = ".restore"

#: Seconds to wait for another process that is writing, before saying so.
PATIENCE = 10.0

_FOLDER_MODE = 0o700
_HEADER = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat.html#the_database_header
_ASIDE = ("", "-wal", "-shm", "-journal")
_POLL = 0.02


def open_store(folder: Path, patience: float = PATIENCE, *, key_file: Path | None = None) -> "Store":
    """The store in `folder`, made or brought up to date as needed; several processes may do this at once.

    `patience` is how long (s) to wait for another process that is writing, here and in every transaction. `key_file`
    holds the key that encrypts what is personal (see `key_file`; the usual place if None); it is made when a database
    is encrypted for the first time. Raises StoreError, with everything else on disk left as it was, when the folder,
    its database or the key cannot be used.
    """
    made: tuple[Path, ...] = ()
    try:
        made = _make(folder)
        _is_missing(folder / DATABASE)
        import triagebot.store.transactions  # noqa: F401 - takes a while, in which others need not wait for the lock

        with _alone_in(folder, patience):
            return _open_database(folder / DATABASE, patience, key_file or default_key_file())
    except BaseException as error:
        for empty in made:
            with suppress(OSError):
                empty.rmdir()
        if isinstance(error, OSError):
            raise errors.system_fault(folder, error) from error
        raise


def _make(folder: Path) -> tuple[Path, ...]:
    """Makes the folder and those above it; gives the ones that were missing, innermost first."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        if missing:
            folder.parent.mkdir(parents=True, exist_ok=True)
            folder.mkdir(mode=_FOLDER_MODE, exist_ok=True)
        elif not folder.is_dir():
            raise errors.fault(folder, errors.NO_FOLDER)
    except OSError:
        for path in missing:
            with suppress(OSError):
                path.rmdir()
        raise
    return tuple(missing)


@contextmanager
def _alone_in(folder: Path, patience: float) -> Iterator[None]:
    """Holds the folder's lock, so that one process at a time looks at the database and brings it up to date."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        end = time.monotonic() + patience
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > end:
                    raise errors.fault(folder, errors.LOCKED) from None
                time.sleep(_POLL)
        yield
    finally:
        os.close(handle)


def _open_database(path: Path, patience: float, key_file: Path) -> "Store":
    new = _is_missing(path)
    from triagebot.store.transactions import Store

    try:
        if new:
            # SQLite gives its other files the rights of this one.
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE))
        return Store(path, patience, key_file)
    except BaseException:
        if new:
            for end in _ASIDE:
                Path(f"{path}{end}").unlink(missing_ok=True)
        raise


def _is_missing(path: Path) -> bool:
    """Whether the database is to be made. Raises StoreError when it can be neither made nor used."""
    new = not _stands(path)
    if new and (path.parent / RESTORING).is_dir():
        raise errors.fault(path.parent, errors.RESTORE_CUT_OFF)
    if not os.access(path.parent, os.W_OK | os.X_OK) or not (new or os.access(path, os.R_OK | os.W_OK)):
        raise errors.fault(path.parent if new else path, errors.READ_ONLY)
    return new


def _stands(path: Path) -> bool:
    """Whether there is a database. Raises StoreError when something else has its name."""
    try:
        kind = path.stat().st_mode
    except FileNotFoundError:
        return False
    if not stat.S_ISREG(kind):
        raise errors.fault(path, errors.NO_DATABASE)
    if not os.access(path, os.R_OK):
        raise errors.fault(path, errors.READ_ONLY)
    with path.open("rb") as file:
        start = file.read(len(_HEADER))
    # An empty file is what a crash leaves between making the file and its first table.
    if start not in (b"", _HEADER):
        raise errors.fault(path, errors.NO_DATABASE)
    return True
