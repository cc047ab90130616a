"""PostgreSQL as we use it, from version 15 on, through psycopg 3 (`pip install 'triagebot[postgresql]'`).

- One transaction writes alone at a time: it takes a lock when it begins, and sees in every later statement what the one
  before it has written. So whatever holds on SQLite holds here, however many processes there are.
- Those that write beside each other (see `store.beside`) share that lock, and each holds the locks of its
  conversations. All locks are those of one schema, so stores in different schemas do not wait for each other.
- A transaction in which a process stopped is ended by the server, so that nobody waits for it for ever.
- A look is a transaction that sees one moment, and can write nothing.
- What was deleted is left on the server's disk until its own housekeeping (`VACUUM`) comes by; what was encrypted with
  a key that was thrown away is of no use to anybody who finds it.
- Each branch of a chain has a schema of its own in the one database (`in_schema`). A connection sees no other, so a
  statement cannot reach another branch's rows. Who writes in one schema waits for nobody in another.
"""

import re
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, quote, urlsplit

from triagebot.store import errors
from triagebot.store.engines.interface import Database, counted_tables

if TYPE_CHECKING:
    from sqlalchemy import Column, ColumnElement, Connection, Engine

#: The oldest version that it is tried with.
OLDEST = 150_000
#: How the one who writes is known to all others in this schema; any number will do that no other program takes. The
#: locks of conversations are told from it by their names.
WRITER = 0x7472_6961_6765
NOBODY = "''"
#: What every connection of ours is called, so that one can tell whether a program of ours has a database open.
NAME = "triagebot"
#: Seconds after which the server ends a transaction that writes and does nothing: a turn computes for milliseconds.
#: Others wait for it for so long, so it is shorter than what a channel is leased for (`leases.LASTS`).
STOPPED = 6
#: Seconds between two looks at whether other programs have hung up.
AGAIN = 0.05

#: What the server says, by its code or the class of it: https://www.postgresql.org/docs/current/errcodes-appendix.html
_WORDS: Mapping[str, str] = {
    "08": errors.AWAY,
    "25006": errors.SERVER_READ_ONLY,
    "25P03": errors.STOPPED,
    "28": errors.REFUSED,
    "3D": errors.REFUSED,
    "3F": errors.REFUSED,
    "40": errors.LOCKED,
    "42501": errors.REFUSED,
    "53100": errors.FULL,
    "53": errors.AWAY,
    "55P03": errors.LOCKED,
    "57": errors.AWAY,
    "58": errors.SERVER_FAILING,
    "XX001": errors.SERVER_FAILING,
    "XX002": errors.SERVER_FAILING,
}


_SCHEMA = re.compile(r"-c\s*search_path=([a-z][a-z0-9_]*)")


def in_schema(url: str, schema: str) -> str:
    """The address of one schema in the database at `url`, as the server's own programs take it, too."""
    options = " ".join([*parse_qs(urlsplit(url).query).get("options", ()), f"-csearch_path={schema}"])
    bare = re.sub(r"(?<=[?&])options=[^&]*&?", "", url).rstrip("?&")
    return f"{bare}{'&' if '?' in bare else '?'}options={quote(options, safe='')}"


def schema_in(url: str) -> str | None:
    """The schema that an address leads to; None where it is the database's usual one."""
    found = _SCHEMA.findall(" ".join(parse_qs(urlsplit(url).query).get("options", ())))
    return found[-1] if found else None


class PostgreSQL(Database):
    """The database at `url`, which is somebody's who runs the server: it is there already, and empty or ours. A schema
    that the address names is made when it is missing."""

    ours = False
    side_by_side = True

    def __init__(self, url: str, patience: float) -> None:
        parts = urlsplit(url)
        self._url = url
        self._schema = schema_in(url)
        within = f" (schema {self._schema})" if self._schema else ""
        self.place = f"postgresql://{parts.hostname or ''}{f':{parts.port}' if parts.port else ''}{parts.path}{within}"
        self.patience = patience
        self._name = f"{NAME} {self._schema}" if self._schema else NAME

    # --- before it is opened --------------------------------------------------------------------------------------

    def exists(self) -> bool:
        return True

    @contextmanager
    def made(self) -> Iterator[None]:
        yield

    # --- while it is open -----------------------------------------------------------------------------------------

    def connections(self, *, migrating: bool = False) -> "Engine":
        from sqlalchemy import create_engine, event, make_url
        from sqlalchemy.pool import NullPool

        from triagebot.store.database import CONFINED, begins_with

        try:
            engine = create_engine(
                make_url(self._url).set(drivername="postgresql+psycopg"),
                paramstyle="format",  # by place, as prepared statements are filled
                connect_args={
                    "autocommit": True,
                    "connect_timeout": max(2, round(self.patience)),
                    "application_name": self._name,
                },
                **({"poolclass": NullPool} if migrating else {"pool_pre_ping": True}),
            )
        except ImportError as error:
            raise errors.fault(self.place, errors.NO_DRIVER) from error

        def begun(lock: str) -> str:  # all at once: one trip to the server
            return (
                f"BEGIN; SET LOCAL lock_timeout = {round(self.patience * 1000)}; "
                f"SET LOCAL idle_in_transaction_session_timeout = '{STOPPED}s'; SELECT {lock}({_key(NOBODY)})"
            )

        begins_with(
            engine,
            writing=begun("pg_advisory_xact_lock"),
            beside=begun("pg_advisory_xact_lock_shared"),
            reading="BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
        )

        @event.listens_for(engine, "before_execute")
        def confine(connection: "Connection", statement: Any, *_: object) -> None:
            confined = connection.get_execution_options().get(CONFINED)
            if confined is not None:
                confined.check(statement)

        return engine

    def hold(self, connection: "Connection", conversation: str, *, wait: bool) -> bool:
        lock = "pg_advisory_xact_lock" if wait else "pg_try_advisory_xact_lock"
        held = connection.exec_driver_sql(f"SELECT {lock}({_key('%s::text')})", (conversation,)).scalar_one()
        return wait or bool(held)

    def now(self, connection: "Connection") -> datetime:
        told: datetime = connection.exec_driver_sql("SELECT clock_timestamp()").scalar_one()
        return told.astimezone(UTC)

    def words_for(self, error: BaseException) -> str | None:
        import psycopg

        if not isinstance(error, psycopg.Error):
            return None
        code = error.sqlstate or ""
        words = _WORDS.get(code) or _WORDS.get(code[:2])
        if words is None and not isinstance(error, psycopg.OperationalError):
            return None
        # without a code, it is the client that could not reach the server, or was refused
        said = " ".join(str(error).split())
        return (words or errors.AWAY).format(error=said)

    def set_up(self, engine: "Engine") -> None:
        from triagebot.store.database import READING

        with engine.connect().execution_options(**{READING: True}) as connection:
            version = int(connection.exec_driver_sql("SHOW server_version_num").scalar_one())
            encoding = connection.exec_driver_sql("SHOW server_encoding").scalar_one()
        if version < OLDEST or encoding != "UTF8":
            raise errors.fault(self.place, errors.OLD_SERVER.format(version=version // 10_000, encoding=encoding))
        if self._schema:
            with engine.begin() as connection:
                # not IF NOT EXISTS, which takes the right to make one even where it is there
                there = f"SELECT 1 FROM pg_namespace WHERE nspname = '{self._schema}'"
                if connection.exec_driver_sql(there).first() is None:
                    connection.exec_driver_sql(f"CREATE SCHEMA {self._schema}")

    def broken_reference(self, connection: "Connection") -> str | None:
        """The server lets nothing point nowhere, migrating or not."""
        return None

    def drop_remains(self, engine: "Engine", patience: float | None = None) -> bool:
        """The server does so by itself."""
        return True

    def numbers_given(self, connection: "Connection") -> dict[str, int]:
        return {
            name: connection.exec_driver_sql(
                f"SELECT greatest(pg_sequence_last_value({_sequence(name)}), (SELECT max(id) FROM {name}), 0)"
            ).scalar_one()
            for name in counted_tables()
        }

    def count_on(self, connection: "Connection", given: Mapping[str, int]) -> None:
        for name, number in given.items():
            if number:
                connection.exec_driver_sql(f"SELECT setval({_sequence(name)}, {number})")

    # --- while all of it is moved to another ----------------------------------------------------------------------

    @contextmanager
    def alone(self) -> "Iterator[Connection]":
        others = (
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid() "
            f"AND application_name = '{self._name}'"
        )
        with self.told(), self.connections(migrating=True).begin() as connection:
            # who has just hung up, we among them, stands there until the server has seen it
            until = time.monotonic() + self.patience
            while connection.exec_driver_sql(others).scalar_one():
                if time.monotonic() >= until:
                    raise errors.fault(self.place, errors.IN_USE)
                time.sleep(AGAIN)
                connection.exec_driver_sql("SELECT pg_stat_clear_snapshot()")
            # the other database may keep us busy for long
            connection.exec_driver_sql("SET LOCAL idle_in_transaction_session_timeout = 0")
            yield connection

    def sorted_by(self, column: "Column[Any]") -> "ColumnElement[Any]":
        from sqlalchemy import Text

        from triagebot.store.database import Characters

        # by its bytes: the language of a database sorts otherwise
        return column.collate("C") if isinstance(column.type, (Characters, Text)) else column

    # --- for those who watch --------------------------------------------------------------------------------------

    def identity(self) -> object:
        return self.place

    def check(self) -> None:
        self._ask("SELECT 1")

    def size(self) -> int:
        if self._schema:
            of_the_schema = "FROM pg_class WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r'"
            return int(self._ask(f"SELECT coalesce(sum(pg_total_relation_size(oid)), 0) {of_the_schema}"))
        return int(self._ask("SELECT pg_database_size(current_database())"))

    def _ask(self, line: str) -> Any:
        engine = self.connections(migrating=True)
        with self.told(), engine.connect() as connection:
            return connection.exec_driver_sql(line).scalar_one()


def _key(of: str) -> str:
    """The number of a lock of this schema: of a conversation, or of the writer who is alone (`NOBODY`)."""
    return f"hashtextextended(concat(current_schema(), ' ', {of}), {WRITER})"


def _sequence(table: str) -> str:
    """Where the numbers of a table come from."""
    return f"pg_get_serial_sequence('{table}', 'id')::regclass"
