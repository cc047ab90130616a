"""Opens the data folder: makes it when it is missing, brings its database up to date, leaves it alone when it cannot.

Everything that can be told without the database library is told before that is loaded.
"""

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.store import errors
from triagebot.store.engines import DATABASE, database_of
from triagebot.store.key_file import default_key_file
from triagebot.store.whole_file import write_whole

if TYPE_CHECKING:
    from triagebot.store.transactions import Store

#: In a folder whose cases are in a database elsewhere: says where.
ELSEWHERE = "database"

#: Seconds to wait for another process that is writing, before saying so.
PATIENCE = 10.0

_FOLDER_MODE = 0o700
_POLL = 0.02


def open_store(
    folder: Path, patience: float = PATIENCE, *, key_file: Path | None = None, database: str | None = None
) -> "Store":
    """The store in `folder`, made or brought up to date as needed; several processes may do this at once.

    `database` is the URL of the database that the cases are in, where that is not the folder's own.

    `patience` is how long (s) to wait for another process that is writing, here and in every transaction. `key_file`
    holds the key that encrypts what is personal (see `key_file`; the usual place if None); it is made when a database
    is encrypted for the first time. Raises StoreError, with everything else on disk left as it was, when the folder,
    its database or the key cannot be used.
    """
    which = database_of(folder, database, patience)
    made: tuple[Path, ...] = ()
    try:
        made = _make(folder)
        _agrees(folder, elsewhere=database is not None)
        which.exists()
        from triagebot.store.transactions import Store  # takes a while, in which others need not wait for the lock

        with alone_in(folder, patience), which.made():
            store = Store(folder, which, key_file or default_key_file())
            if database is not None:
                note_elsewhere(folder / ELSEWHERE, str(which.place))
            return store
    except BaseException as error:
        for empty in made:
            with suppress(OSError):
                empty.rmdir()
        if isinstance(error, OSError):
            raise errors.system_fault(folder, error) from error
        raise


def holds_cases(folder: Path, database: str | None) -> bool:
    """Whether there is anything to look at; else opening it would make it."""
    return database is not None or (folder / DATABASE).exists()


def _agrees(folder: Path, *, elsewhere: bool) -> None:
    """Raises StoreError where the folder's cases are in another database than the one that is to be opened: it would
    be empty, and look as if everything were lost."""
    if elsewhere and (folder / DATABASE).exists():
        raise errors.fault(folder, errors.IN_SQLITE)
    note = folder / ELSEWHERE
    if not elsewhere and note.is_file() and not (folder / DATABASE).exists():
        place = note.read_text("utf-8", "replace").strip()
        raise errors.fault(folder, errors.IN_POSTGRESQL.format(place=place, file=note))


def note_elsewhere(file: Path, place: str) -> None:
    if not file.is_file() or file.read_text("utf-8", "replace").strip() != place:
        write_whole(file, f"{place}\n".encode())


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
def alone_in(folder: Path, patience: float) -> Iterator[None]:
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
