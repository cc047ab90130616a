"""Inserting what may be there already, which every database has its own words for."""

from sqlalchemy import Table
from sqlalchemy.dialects import sqlite
from sqlalchemy.dialects.sqlite import Insert


def insert_into(table: Table, dialect: str) -> Insert:
    """An insert for the database of that name; its library is loaded only when it is used.

    Typed as that for SQLite: the others understand the same, `on_conflict_do_nothing` and `on_conflict_do_update`."""
    if dialect == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)  # type: ignore[return-value]
    return sqlite.insert(table)
