"""The databases that a store can lie in: a module for each, all behind one interface.

Nothing outside this room imports a database's driver or writes a statement that only one of them understands; a test
holds that (`tests/store/test_engines.py`). Two rooms have an SQLite of their own, which is not the store's: the search
of notes (`shop/search.py`), in memory, and the Matrix library's keys (`channels/matrix/`).

Importing this room is cheap: the modules load the database library where they need it.
"""

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from triagebot.store.engines.interface import Database
from triagebot.store.engines.postgresql import PostgreSQL, in_schema
from triagebot.store.engines.sqlite import DATABASE, SQLite

if TYPE_CHECKING:
    from sqlalchemy import Table
    from sqlalchemy.dialects.sqlite import Insert

__all__ = ["DATABASE", "Database", "SQLite", "database_of", "in_schema", "insert_into"]


def database_of(folder: Path, url: str | None, patience: float) -> Database:
    """The database of a data folder: the one at `url`, or a file of SQLite's within the folder."""
    return SQLite(folder / DATABASE, patience) if url is None else PostgreSQL(url, patience)


@cache
def insert_into(table: "Table", dialect: str) -> "Insert":
    """An insert for the database of that name; its library is loaded only when it is used.

    Typed as that for SQLite: the others understand the same, `on_conflict_do_nothing` and `on_conflict_do_update`."""
    if dialect == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)  # type: ignore[return-value]
    from sqlalchemy.dialects import sqlite

    return sqlite.insert(table)
