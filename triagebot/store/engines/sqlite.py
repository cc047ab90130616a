"""SQLite as we use it: a file in the data folder, with nothing to install.

- Writers take the write lock when they begin (two that both read first and then want to write could not both go on);
  readers never wait for them (write-ahead log); a commit is on the disk before it is confirmed, since a channel forgets
  a message once we say that we have it.
- What can be told without the database library is told before that is loaded.
"""

import os
import sqlite3
import stat
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from triagebot.store import errors
from triagebot.store.engines.interface import Database, counted_tables
from triagebot.store.whole_file import PRIVATE

if TYPE_CHECKING:
    from sqlalchemy import Column, ColumnElement, Connection, Engine

DATABASE = "triagebot.sqlite3"
#: What may lie beside a database, for as long as one is open or after a crash.
SIDECARS = ("-wal", "-shm", "-journal")

_HEADER = b"SQLite format 3\0"  # https://www.sqlite.org/fileformat.html#the_database_header
_SETUP = (
    "PRAGMA synchronous=FULL",  # a confirmed commit survives a power cut, not only a crash of ours
    "PRAGMA secure_delete=ON",  # what was forgotten is overwritten, not only unlinked
    "PRAGMA cache_size=-512",  # kB a connection: what is asked for is found by an index, and the system keeps the file
    "PRAGMA foreign_keys=ON",
)
#: Rebuilding a table drops the old one, which with foreign keys on would take the rows that point to it along.
_SETUP_MIGRATING = (*_SETUP[:-1], "PRAGMA foreign_keys=OFF")
#: The log holds older copies of pages, among them what was deleted or was not encrypted yet.
_EMPTY_LOG = "PRAGMA wal_checkpoint(TRUNCATE)"
#: Database pages copied at once.
_PAGES = 4096

#: Result codes of SQLite, https://www.sqlite.org/rescode.html: extended ones first, then their primary code.
_WORDS: Mapping[int, str] = {
    sqlite3.SQLITE_IOERR_SHMSIZE: errors.FULL,
    sqlite3.SQLITE_BUSY: errors.LOCKED,
    sqlite3.SQLITE_LOCKED: errors.LOCKED,
    sqlite3.SQLITE_PERM: errors.READ_ONLY,
    sqlite3.SQLITE_READONLY: errors.READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: errors.READ_ONLY,
    sqlite3.SQLITE_AUTH: errors.READ_ONLY,
    sqlite3.SQLITE_FULL: errors.FULL,
    sqlite3.SQLITE_IOERR: errors.FAILING,
    sqlite3.SQLITE_CORRUPT: errors.DAMAGED,
    sqlite3.SQLITE_NOTADB: errors.NO_DATABASE,
}


class _Open:
    """Databases that this process has open. To close such a file another time would take SQLite's own locks on it away
    (https://www.sqlite.org/howtocorrupt.html#_posix_advisory_locks_canceled_by_a_separate_thread_doing_close_), so
    that another process might empty the log that is being read: nobody looks into the file meanwhile."""

    def __init__(self) -> None:
        self._lock, self._files = Lock(), Counter[tuple[int, int]]()

    def begin(self, place: Path) -> tuple[int, int]:
        found = place.stat()
        with self._lock:
            self._files[found.st_dev, found.st_ino] += 1
        return found.st_dev, found.st_ino

    def end(self, file: tuple[int, int] | None) -> None:
        if file is not None:
            with self._lock:
                self._files[file] -= 1

    def __contains__(self, place: Path) -> bool:
        found = place.stat()
        with self._lock:
            return self._files[found.st_dev, found.st_ino] > 0


_OPEN = _Open()


class SQLite(Database):
    """The database file at `place`."""

    place: Path
    ours = True

    def __init__(self, place: Path, patience: float) -> None:
        self.place = place
        self.patience = patience

    # --- before it is opened --------------------------------------------------------------------------------------

    def exists(self) -> bool:
        folder = self.place.parent
        there = _is_database(self.place)
        if not there and (folder / errors.RESTORING).is_dir():
            raise errors.fault(folder, errors.RESTORE_CUT_OFF)
        if not os.access(folder, os.W_OK | os.X_OK) or (there and not os.access(self.place, os.R_OK | os.W_OK)):
            raise errors.fault(self.place if there else folder, errors.READ_ONLY)
        return there

    @contextmanager
    def made(self) -> Iterator[None]:
        new = not self.exists()
        try:
            if new:
                # SQLite gives its other files the rights of this one.
                os.close(os.open(self.place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE))
            yield
        except BaseException:
            if new:
                for end in ("", *SIDECARS):
                    Path(f"{self.place}{end}").unlink(missing_ok=True)
            raise

    # --- while it is open -----------------------------------------------------------------------------------------

    def connections(self, *, migrating: bool = False) -> "Engine":
        from sqlalchemy import URL, create_engine, event
        from sqlalchemy.pool import NullPool

        from triagebot.store.database import begins_with

        engine = create_engine(
            URL.create("sqlite", database=str(self.place)),
            # No transaction is begun behind our back; `begins_with` says which kind.
            connect_args={"timeout": self.patience, "isolation_level": None},
            poolclass=NullPool if migrating else None,
        )

        @event.listens_for(engine, "connect")
        def set_up(connection: Any, entry: Any) -> None:
            entry.info["open"] = _OPEN.begin(self.place)
            cursor = connection.cursor()
            for line in _SETUP_MIGRATING if migrating else _SETUP:
                cursor.execute(line)
            cursor.close()

        @event.listens_for(engine, "close")
        def closed(_connection: object, entry: Any) -> None:
            _OPEN.end(entry.info.pop("open", None))

        begins_with(engine, writing="BEGIN IMMEDIATE", reading="BEGIN")
        return engine

    def words_for(self, error: BaseException) -> str | None:
        return _words_for(error)

    def set_up(self, engine: "Engine") -> None:
        _outside_transactions(engine, "PRAGMA journal_mode=WAL")

    def broken_reference(self, connection: "Connection") -> str | None:
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
        return None if broken is None else str(broken[0])

    def drop_remains(self, engine: "Engine", patience: float | None = None) -> bool:
        """Empties the log. It cannot while somebody reads what stood there before; nobody waits for them longer than
        `patience`."""
        with suppress(sqlite3.Error):  # deleting is done already, so a failure here is no failure
            ((busy, *_),) = _outside_transactions(engine, _EMPTY_LOG, patience)
            return not busy
        return False

    def numbers_given(self, connection: "Connection") -> dict[str, int]:
        rows = connection.exec_driver_sql("SELECT name, seq FROM sqlite_sequence").all()
        given: dict[str, int] = {row[0]: row[1] for row in rows}
        # a table never written to has no row yet
        return {name: given.get(name, 0) for name in counted_tables()}

    def count_on(self, connection: "Connection", given: Mapping[str, int]) -> None:
        connection.exec_driver_sql("DELETE FROM sqlite_sequence")
        connection.exec_driver_sql("INSERT INTO sqlite_sequence (name, seq) VALUES (?, ?)", list(given.items()))

    # --- while all of it is moved to another ----------------------------------------------------------------------

    @contextmanager
    def alone(self) -> "Iterator[Connection]":
        from sqlalchemy import event
        from sqlalchemy.exc import OperationalError

        engine = self.connections(migrating=True)

        @event.listens_for(engine, "connect")
        def claim(connection: Any, _entry: object) -> None:
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")

        with faults_told(self.place), engine.connect() as connection:
            try:
                connection.begin()
            except OperationalError as error:
                if _words_for(error.orig or error) == errors.LOCKED:  # somebody may only have it open
                    raise errors.fault(self.place, errors.IN_USE) from error
                raise
            yield connection
            connection.commit()

    def sorted_by(self, column: "Column[Any]") -> "ColumnElement[Any]":
        return column

    # --- for those who watch --------------------------------------------------------------------------------------

    def identity(self) -> object:
        with suppress(OSError):
            found = self.place.stat()
            return found.st_dev, found.st_ino
        return None

    def check(self) -> None:
        check(self.place, self.place)

    def size(self) -> int:
        return self.place.stat().st_size


def _outside_transactions(engine: "Engine", line: str, patience: float | None = None) -> list[tuple[Any, ...]]:
    """The rows that a line gives which no transaction may hold. `patience` (s) is for this line alone."""
    connection = engine.raw_connection()
    try:
        cursor = connection.cursor()
        ((usual,),) = cursor.execute("PRAGMA busy_timeout").fetchall()
        try:
            if patience is not None:
                cursor.execute(f"PRAGMA busy_timeout={round(patience * 1000)}")
            return list(cursor.execute(line).fetchall())
        finally:
            cursor.execute(f"PRAGMA busy_timeout={usual}")
    finally:
        connection.close()


def _is_database(path: Path) -> bool:
    """Whether there is a database. Raises StoreError when something else has its name."""
    try:
        kind = path.stat().st_mode
    except FileNotFoundError:
        return False
    if not stat.S_ISREG(kind):
        raise errors.fault(path, errors.NO_DATABASE)
    if not os.access(path, os.R_OK):
        raise errors.fault(path, errors.READ_ONLY)
    if path in _OPEN:
        return True
    with path.open("rb") as file:
        start = file.read(len(_HEADER))
    # An empty file is what a crash leaves between making the file and its first table.
    if start not in (b"", _HEADER):
        raise errors.fault(path, errors.NO_DATABASE)
    return True


def _words_for(error: BaseException) -> str | None:
    if not isinstance(error, sqlite3.DatabaseError):
        return None
    if isinstance(error, (sqlite3.IntegrityError, sqlite3.ProgrammingError)):
        return None
    code = getattr(error, "sqlite_errorcode", 0)
    return _WORDS.get(code) or _WORDS.get(code & 0xFF) or errors.UNKNOWN.format(error=error)


# --- files of SQLite, the store's and others --------------------------------------------------------------------------


@contextmanager
def faults_told(place: Path) -> Iterator[None]:
    """As `database.faults_told`, for code that works on a file of SQLite directly."""
    from triagebot.store.database import faults_told

    with faults_told(place, _words_for):
        yield


def is_sqlite(path: Path) -> bool:
    """Whether a file is a database of SQLite. Raises OSError."""
    with path.open("rb") as file:
        return file.read(len(_HEADER)) == _HEADER


def connected(database: Path, patience: float) -> sqlite3.Connection:
    """A connection to a database that is there: SQLite would make one that is not."""
    return sqlite3.connect(f"file:{quote(str(database))}?mode=rw", patience, isolation_level=None, uri=True)


def check(place: Path, database: Path, patience: float = 10.0) -> None:
    """Raises StoreError about `place` when a database is damaged."""
    with faults_told(place), closing(connected(database, patience)) as connection:
        found = [row[0] for row in connection.execute("PRAGMA quick_check(1)")]
    if found != ["ok"]:
        raise errors.fault(place, errors.DAMAGED)


def copy(database: Path, to: Path, patience: float, meanwhile: Callable[[], object] | None = None) -> None:
    """Copies a database as it stands at one moment; nobody who writes waits for the copy. `meanwhile` is called at that
    moment, and nobody writes while it runs."""
    with closing(connected(database, patience)) as source:
        if meanwhile is not None:
            with closing(connected(database, patience)) as writing:
                writing.execute("BEGIN IMMEDIATE")
                meanwhile()
                source.execute("BEGIN")
                source.execute("SELECT count(*) FROM sqlite_master").fetchone()  # from here on it sees this moment
                writing.execute("ROLLBACK")
        os.close(os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE))
        with closing(connected(to, patience)) as target:
            target.execute("PRAGMA synchronous=OFF")
            source.backup(target, pages=_PAGES)
            target.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it
