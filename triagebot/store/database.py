"""SQLite as we use it: how a connection is set up, how values are written, statements compiled once, faults told.

- Writers take the write lock when they begin (two that both read first and then want to write could not both go on);
  readers never wait for them (write-ahead log); a commit is on the disk before it is confirmed, since a channel forgets
  a message once we say that we have it.
- Texts are stored as JSON strings without their quotation marks: readable as they are, while what no database takes (a
  null character, half of a surrogate pair) is escaped. Moments are stored in UTC.
- The statements that every message needs go to SQLite's driver as they were compiled once (`Prepared`). The database
  library compiles a statement once, too, but at each use it looks it up, copies its parameters and makes three objects:
  some 80 µs of the processor, where SQLite itself takes 10, and a message takes ten statements. On another database
  the library does it, as it does everything else.
"""

import json
import re
import sqlite3
from collections import namedtuple
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

from sqlalchemy import (
    URL,
    Connection,
    DateTime,
    Delete,
    Dialect,
    Engine,
    Insert,
    Select,
    Table,
    Text,
    TypeDecorator,
    Update,
    create_engine,
    event,
)
from sqlalchemy.dialects import sqlite
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.pool import ConnectionPoolEntry, NullPool
from sqlalchemy.sql.compiler import SQLCompiler

from triagebot.store import errors
from triagebot.store.encryption import json_text

_SETUP = (
    "PRAGMA synchronous=FULL",  # a confirmed commit survives a power cut, not only a crash of ours
    "PRAGMA secure_delete=ON",  # what was forgotten is overwritten, not only unlinked
    "PRAGMA cache_size=-512",  # kB a connection: what is asked for is found by an index, and the system keeps the file
    "PRAGMA foreign_keys=ON",
)
#: Rebuilding a table drops the old one, which with foreign keys on would take the rows that point to it along.
_SETUP_MIGRATING = (*_SETUP[:-1], "PRAGMA foreign_keys=OFF")
#: The execution option of a connection that only reads.
READING = "triagebot_reading"

#: A question mark for each parameter, so that they are handed over as a list.
_SQLITE = sqlite.dialect(paramstyle="qmark")
#: Texts that JSON holds as they are: hashes, ids, kinds.
_PLAIN = re.compile(r"[ !#-\[\]-~]*")

Change = Callable[[Any], Any]

# --- connections ------------------------------------------------------------------------------------------------------


def engine_for(path: Path, patience: float, *, migrating: bool = False) -> Engine:
    """The connections to a database file. `patience` is how long (s) each waits for another one that writes."""
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        # No transaction is begun behind our back; `begin` below says which kind.
        connect_args={"timeout": patience, "isolation_level": None},
        poolclass=NullPool if migrating else None,
    )

    @event.listens_for(engine, "connect")
    def set_up(connection: DBAPIConnection, _entry: ConnectionPoolEntry) -> None:
        cursor = connection.cursor()
        for line in _SETUP_MIGRATING if migrating else _SETUP:
            cursor.execute(line)
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        reading = connection.get_execution_options().get(READING)
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine


def outside_transactions(engine: Engine, line: str, patience: float | None = None) -> list[tuple[Any, ...]]:
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


@contextmanager
def faults_told(place: Path) -> Iterator[None]:
    """Turns what the database raises inside into a StoreError about `place`.

    Broken rules of our own making (a constraint, wrong SQL parameters) stay as they are: they are faults of the
    program, and everything else (an error raised by the code inside) is none of the store's business.
    """
    try:
        yield
    except Exception as error:
        cause = getattr(error, "orig", None) or error
        if not isinstance(cause, sqlite3.DatabaseError) or isinstance(
            cause, (sqlite3.IntegrityError, sqlite3.ProgrammingError)
        ):
            raise
        raise errors.database_fault(place, cause) from error


# --- values -----------------------------------------------------------------------------------------------------------


class Characters(TypeDecorator[str]):
    """Any text that somebody may have typed."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None or _PLAIN.fullmatch(value):
            return value
        return json_text(value)[1:-1]

    def process_result_value(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None or "\\" not in value:
            return value
        return str(json.loads(f'"{value}"'))


class Instant(TypeDecorator[datetime]):
    """A moment; given with any offset, stored and handed out in UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value!r} says no offset from UTC")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


# --- statements -------------------------------------------------------------------------------------------------------


def insert_into(table: Table, dialect: str) -> sqlite.Insert:
    """An insert for the database of that name; its library is loaded only when it is used.

    Typed as that for SQLite: the others understand the same, `on_conflict_do_nothing` and `on_conflict_do_update`."""
    if dialect == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)  # type: ignore[return-value]
    return sqlite.insert(table)


@dataclass(frozen=True, slots=True)
class _Direct:
    """A statement as SQLite takes it. `fill` says for each parameter, in order: its name among what is given, or None
    and its value; and how it is written. `read` says how the values of a row are read, by place, where they are not
    taken as they come; `row` makes a row of them."""

    text: str
    fill: tuple[tuple[str | None, Any, Change | None], ...]
    read: tuple[tuple[int, Change], ...]
    row: Change

    def values(self, given: Mapping[str, Any]) -> list[Any]:
        return [
            fixed if name is None else given[name] if write is None else write(given[name])
            for name, fixed, write in self.fill
        ]

    def made(self, found: Sequence[Any]) -> Any:
        if not self.read:
            return self.row(found)
        values = list(found)
        for place, read in self.read:
            values[place] = read(values[place])
        return self.row(values)


class Prepared:
    """One statement. `given` names the parameters of an insert that takes one for each of these columns."""

    def __init__(self, statement: Select[Any] | Insert | Update | Delete, given: Sequence[str] | None = None) -> None:
        self._statement = statement
        self._given = given

    def all(self, connection: Connection, given: Mapping[str, Any]) -> Sequence[Any]:
        """The rows, with their values by the names of the columns."""
        driver = _driver(connection)
        if driver is None:
            return connection.execute(self._statement, given).all()
        direct = self._direct
        return [direct.made(found) for found in driver.execute(direct.text, direct.values(given)).fetchall()]

    def first(self, connection: Connection, given: Mapping[str, Any]) -> Any:
        """The first row; None if there is none."""
        rows = self.all(connection, given)
        return rows[0] if rows else None

    def value(self, connection: Connection, given: Mapping[str, Any]) -> Any:
        """The first value of the first row; None if there is none."""
        rows = self.all(connection, given)
        return rows[0][0] if rows else None

    def change(self, connection: Connection, given: Mapping[str, Any]) -> int:
        """Gives how many rows were changed by a statement that gives none."""
        driver = _driver(connection)
        if driver is None:
            return connection.execute(self._statement, given).rowcount
        return driver.execute(self._direct.text, self._direct.values(given)).rowcount

    def change_all(self, connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
        """Carries out a statement that gives no rows, once for each of `rows`, of which there is one at least."""
        driver = _driver(connection)
        if driver is None:
            connection.execute(self._statement, rows)
        else:
            driver.executemany(self._direct.text, map(self._direct.values, rows))

    @cached_property
    def _direct(self) -> _Direct:
        compiled = self._statement.compile(dialect=_SQLITE, column_keys=self._given)
        assert isinstance(compiled, SQLCompiler)
        assert not compiled.post_compile_params, "a list of any length cannot be prepared"
        columns = self._statement.exported_columns
        row = namedtuple("Row", map(str, columns.keys()), rename=True)  # type: ignore[misc]
        read = [column.type.dialect_impl(_SQLITE).result_processor(_SQLITE, None) for column in columns]
        return _Direct(
            str(compiled),
            tuple(_slot(compiled, name) for name in compiled.positiontup or ()),
            tuple((place, change) for place, change in enumerate(read) if change is not None),
            row._make,
        )


def _driver(connection: Connection) -> sqlite3.Connection | None:
    driver = connection.connection.driver_connection
    return driver if isinstance(driver, sqlite3.Connection) else None


def _slot(compiled: SQLCompiler, name: str) -> tuple[str | None, Any, Change | None]:
    bound = compiled.binds[name]
    write = bound.type.dialect_impl(_SQLITE).bind_processor(_SQLITE)
    if bound.required:
        return bound.key, None, write
    return None, bound.value if write is None else write(bound.value), None
