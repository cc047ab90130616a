"""The tables, for SQLite now and PostgreSQL later from the same description.

A change here needs a file in `migrations/versions/` and its number in `revisions.py`; a test compares the three.
"""

from sqlalchemy import Column, ForeignKey, Integer, MetaData, Table, Text

from triagebot.store.writing import Characters, Instant

#: A name for every constraint, so that a migration can speak of it on every database.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

metadata = MetaData(naming_convention=NAMING)

#: One row a case. Numbers are never used again, so that a case that was forgotten cannot be taken for a later one.
cases = Table(
    "cases",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("person", Characters, nullable=False, index=True),
    Column("code", Characters, nullable=False, unique=True),
    Column("topic", Characters, nullable=False),
    Column("opened_at", Instant, nullable=False),
    sqlite_autoincrement=True,
)

#: What happened in a case: `seq` counts from 0 without gaps; rows are only ever added, or deleted with their case.
events = Table(
    "events",
    metadata,
    Column("case_id", Integer, ForeignKey("cases.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("body", Text, nullable=False),
)
