"""Inserting what may be there already, which every database has its own words for."""

from collections.abc import Callable, Mapping

from sqlalchemy import Table
from sqlalchemy.dialects import postgresql, sqlite

Insert = sqlite.Insert | postgresql.Insert

#: By the name of the dialect.
INSERTS: Mapping[str, Callable[[Table], Insert]] = {"sqlite": sqlite.insert, "postgresql": postgresql.insert}
