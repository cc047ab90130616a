"""The statements that every message needs, compiled once and handed to the database's driver as they are.

The database library compiles a statement once, too, but at each use it looks it up, copies its parameters and makes
three objects: some 80 µs of the processor, where SQLite itself takes 10, and a message takes ten statements. So on
SQLite, and for these statements alone, its driver is called directly. Elsewhere the library does it, as it does all
else. Either way values are written and read by the types of the tables.

What SQLite's driver raises comes as it is, not wrapped as the library does it; `faults` tells both.
"""

import sqlite3
from collections import namedtuple
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy import Connection, Delete, Insert, Select, Update
from sqlalchemy.dialects.sqlite import dialect
from sqlalchemy.sql.compiler import SQLCompiler

#: A question mark for each parameter, so that they are handed over as a list.
_SQLITE = dialect(paramstyle="qmark")

Change = Callable[[Any], Any]


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
