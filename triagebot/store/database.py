"""The database itself: connections, transactions, and bringing it up to date.

Decided here and nowhere else: how SQLite is set up. Writers take the write lock when they begin (two that both read
first and then want to write could not both go on); readers never wait for them (write-ahead log); a commit is on the
disk before it is confirmed, since a channel forgets a message once we say that we have it.
"""

import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import URL, Connection, Engine, column, create_engine, event, inspect, select, table
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.pool import ConnectionPoolEntry, NullPool

from triagebot.store import errors
from triagebot.store.cases import Transaction, View
from triagebot.store.encryption import Cipher, DecryptionError, read_keys, read_or_make_keys
from triagebot.store.reencrypting import reseal
from triagebot.store.revisions import NEWEST, REVISIONS, SEALED
from triagebot.store.tables import seals

_SETUP = (
    "PRAGMA synchronous=FULL",  # a confirmed commit survives a power cut, not only a crash of ours
    "PRAGMA secure_delete=ON",  # what was forgotten is overwritten, not only unlinked
    "PRAGMA cache_size=-512",  # kB a connection: what is asked for is found by an index, and the system keeps the file
    "PRAGMA foreign_keys=ON",
)
#: Rebuilding a table drops the old one, which with foreign keys on would take the rows that point to it along.
_SETUP_MIGRATING = (*_SETUP[:-1], "PRAGMA foreign_keys=OFF")
_READING = "triagebot_reading"


class Store:
    """An open data folder. Threads may share it; a process that forks must open its own."""

    def __init__(self, path: Path, patience: float, key_file: Path) -> None:
        """Opens a database file, migrating it if needed; `open_store` sees to the folder and to being alone in it."""
        self.path = path
        self._patience = patience
        self._engine = _engine(path, patience, _SETUP)
        try:
            with errors.database_faults_told(path):
                held = _revision(self._engine, path)
                # What was never sealed may be sealed with a new key; what was, only opened with the old one.
                sealed = held is not None and held >= SEALED
                keys = (read_keys if sealed else read_or_make_keys)(key_file, path.parent)
                _outside_transactions(self._engine, "PRAGMA journal_mode=WAL")
                if held != NEWEST:
                    _migrate(path, patience, keys)
                    # The log holds older copies of pages, among them what was not sealed yet.
                    _outside_transactions(self._engine, "PRAGMA wal_checkpoint(TRUNCATE)")
                self.cipher = self._cipher(keys, key_file)
        except BaseException:
            self.close()
            raise

    def _cipher(self, keys: tuple[bytes, ...], key_file: Path) -> Cipher:
        with self._engine.connect().execution_options(**{_READING: True}) as connection:
            closed = connection.scalar(select(seals.c.body).where(seals.c.name == "look-up"))
        if closed is None:
            raise errors.fault(self.path, f"the key of its marks is missing: {errors.DAMAGED}")
        try:
            return Cipher(keys, bytes.fromhex(Cipher(keys, b"").decrypt(closed)))
        except DecryptionError as error:
            raise errors.fault(self.path, errors.WRONG_KEY.format(file=key_file)) from error

    def reseal(self) -> int:
        """Closes everything with the first key of the key file, so that older keys can be taken away; gives how many
        texts that were. Others may go on writing meanwhile. Raises StoreError."""
        return reseal(self)

    @contextmanager
    def begin(self) -> Iterator[Transaction]:
        """A transaction that writes: committed at the end of the block, undone when the block raises.

        Raises StoreError when the database cannot be written or stays locked for longer than the patience.
        """
        with errors.database_faults_told(self.path):
            with self._engine.begin() as connection:
                tx = Transaction(connection, self.path, self.cipher)
                yield tx
            for tell in tx.after_commit:
                tell()
            if tx.forgot:
                # The log holds older copies of pages. Deleting is done already, so a failure here is no failure.
                with suppress(sqlite3.Error):
                    _outside_transactions(self._engine, "PRAGMA wal_checkpoint(TRUNCATE)")

    @contextmanager
    def read(self) -> Iterator[View]:
        """A look at the database as it stands when the first thing is read; never waits for somebody who writes."""
        with (
            errors.database_faults_told(self.path),
            self._engine.connect().execution_options(**{_READING: True}) as connection,
            connection.begin(),
        ):
            yield View(connection, self.path, self.cipher)

    def close(self) -> None:
        """Lets go of the file. Closing twice is fine."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _engine(path: Path, patience: float, setup: tuple[str, ...]) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        # No transaction is begun behind our back; `begin` below says which kind.
        connect_args={"timeout": patience, "isolation_level": None},
        poolclass=NullPool if setup is _SETUP_MIGRATING else None,
    )

    @event.listens_for(engine, "connect")
    def set_up(connection: DBAPIConnection, _entry: ConnectionPoolEntry) -> None:
        cursor = connection.cursor()
        for line in setup:
            cursor.execute(line)
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        reading = connection.get_execution_options().get(_READING)
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine


def _revision(engine: Engine, path: Path) -> str | None:
    """The revision of a database, None of an empty one. Raises StoreError for one that is newer, or not ours."""
    with engine.connect().execution_options(**{_READING: True}) as connection:
        tables = inspect(connection).get_table_names()
        if not tables:
            return None
        if "alembic_version" not in tables:
            raise errors.fault(path, errors.FOREIGN)
        held: str | None = connection.scalar(select(column("version_num")).select_from(table("alembic_version")))
    if held not in REVISIONS:
        raise errors.fault(path, f"{errors.NEWER} (it is at revision {held}; this triagebot knows up to {NEWEST})")
    return held


def _outside_transactions(engine: Engine, line: str) -> None:
    connection = engine.raw_connection()
    try:
        connection.cursor().execute(line).fetchall()
    finally:
        connection.close()


def _migrate(path: Path, patience: float, keys: tuple[bytes, ...]) -> None:
    """Runs what is pending, all in one transaction."""
    from triagebot.store.migrations import upgrade

    lookup = secrets.token_bytes(32)
    cipher = Cipher(keys, lookup)
    with _engine(path, patience, _SETUP_MIGRATING).begin() as connection:
        try:
            upgrade(connection, cipher=cipher, lookup=cipher.encrypt(lookup.hex()))
        except ValueError as error:  # a text that we never wrote
            raise errors.fault(path, f"holds what cannot be sealed ({error}): {errors.DAMAGED}") from error
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if broken:
            raise errors.fault(path, f"rows of {broken[0][0]} point nowhere: {errors.DAMAGED}")
