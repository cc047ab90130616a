"""How values are written, statements compiled once, transactions begun and faults told, on every database alike.

- Texts are stored as JSON strings without their quotation marks: readable as they are, while what no database takes (a
  null character, half of a surrogate pair) is escaped. Moments are stored in UTC.
- The statements that every message needs go to the database's driver as they were compiled once (`Prepared`). The
  database library compiles a statement once, too, but at each use it looks it up, copies its parameters and makes three
  objects: some 80 µs of the processor, where SQLite itself takes 10, and a message takes ten statements.
"""

import json
import re
from collections import namedtuple
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import (
    BigInteger,
    Connection,
    DateTime,
    Delete,
    Dialect,
    Engine,
    Insert,
    Integer,
    Select,
    Text,
    TypeDecorator,
    Update,
    event,
)
from sqlalchemy.sql.compiler import SQLCompiler

from triagebot.store import errors
from triagebot.store.encryption import json_text

#: The execution options of a connection that only reads, and of one that writes beside others: what that is confined to
#: (see `beside`).
READING, CONFINED = "triagebot_reading", "triagebot_confined"

#: Texts that JSON holds as they are: hashes, ids, kinds.
_PLAIN = re.compile(r"[ !#-\[\]-~]*")

Change = Callable[[Any], Any]

# --- transactions -----------------------------------------------------------------------------------------------------


def begins_with(engine: Engine, *, writing: str, reading: str, beside: str = "") -> None:
    """Says with which line a transaction begins, on an engine whose driver begins none by itself; `beside` others where
    that is another one than that for `writing`."""

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        options = connection.get_execution_options()
        line = reading if options.get(READING) else beside if CONFINED in options else writing
        connection.exec_driver_sql(line, execution_options={"no_parameters": True})


@contextmanager
def faults_told(place: Path | str, words_for: Callable[[BaseException], str | None]) -> Iterator[None]:
    """Turns what the database raises inside into a StoreError about `place`.

    What `words_for` has no words for stays as it is: a fault of the program, or none of the store's business.
    """
    try:
        yield
    except Exception as error:
        cause = getattr(error, "orig", None) or error
        words = words_for(cause)
        if words is None:
            raise
        raise errors.fault(place, words) from error


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


#: The number of a row. SQLite counts on from a column that is declared like this one, and no other.
NUMBER = BigInteger().with_variant(Integer(), "sqlite")


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


@dataclass(frozen=True, slots=True)
class _Direct:
    """A statement as a driver takes it. `fill` says for each parameter, in order: its name among what is given, or None
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
    """One statement. `given` names the parameters of an insert that takes one for each of these columns.

    `of` names those parameters that say whose rows it touches, no others than theirs: conversations by their hashes,
    or cases by their numbers (see `beside`). What is `fixed` is never changed while it is there."""

    def __init__(
        self,
        statement: Select[Any] | Insert | Update | Delete,
        given: Sequence[str] | None = None,
        *,
        of: Sequence[str] = (),
        fixed: bool = False,
    ) -> None:
        self._statement = statement
        self._given = given
        self._of = of
        self._fixed = fixed
        self._compiled: dict[str, _Direct] = {}

    def _driver(self, connection: Connection, given: Mapping[str, Any]) -> Any:
        """The driver's own connection, on which a transaction does no more than it may; None to go by the library."""
        confined = connection.get_execution_options().get(CONFINED)
        if confined is not None and not self._fixed:
            confined.check(self._statement, map(given.get, self._of))
        return _driver(connection)

    def all(self, connection: Connection, given: Mapping[str, Any]) -> Sequence[Any]:
        """The rows, with their values by the names of the columns."""
        driver = self._driver(connection, given)
        if driver is None:
            return connection.execute(self._statement, given).all()
        direct = self._direct(connection.dialect)
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
        driver = self._driver(connection, given)
        if driver is None:
            return connection.execute(self._statement, given).rowcount
        direct = self._direct(connection.dialect)
        count: int = driver.execute(direct.text, direct.values(given)).rowcount
        return count

    def change_all(self, connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
        """Carries out a statement that gives no rows, once for each of `rows`, of which there is one at least, all of
        the same owner."""
        driver = self._driver(connection, rows[0])
        if driver is None:
            connection.execute(self._statement, rows)
        else:
            direct = self._direct(connection.dialect)
            driver.cursor().executemany(direct.text, map(direct.values, rows))

    def _direct(self, dialect: Dialect) -> _Direct:
        """As it was compiled for the driver of a dialect, which takes its parameters as a list."""
        if (known := self._compiled.get(dialect.name)) is not None:
            return known
        compiled = self._statement.compile(dialect=dialect, column_keys=self._given)
        assert isinstance(compiled, SQLCompiler)
        assert compiled.positional, "the driver takes its parameters by place"
        assert not compiled.post_compile_params, "a list of any length cannot be prepared"
        columns = self._statement.exported_columns
        row = namedtuple("Row", map(str, columns.keys()), rename=True)  # type: ignore[misc]
        read = [column.type.dialect_impl(dialect).result_processor(dialect, None) for column in columns]
        direct = self._compiled[dialect.name] = _Direct(
            str(compiled),
            tuple(_slot(compiled, name, dialect) for name in compiled.positiontup or ()),
            tuple((place, change) for place, change in enumerate(read) if change is not None),
            row._make,
        )
        return direct


def _driver(connection: Connection) -> Any:
    """The driver's own connection."""
    return connection.connection.driver_connection


def _slot(compiled: SQLCompiler, name: str, dialect: Dialect) -> tuple[str | None, Any, Change | None]:
    bound = compiled.binds[name]
    write = bound.type.dialect_impl(dialect).bind_processor(dialect)
    if bound.required:
        return bound.key, None, write
    return None, bound.value if write is None else write(bound.value), None
