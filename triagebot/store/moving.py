"""Moves all that is kept from one database to another: from the data folder's own file to PostgreSQL, or back.

Rules of this file:
- nobody else has either of them open meanwhile; nothing is moved over anything;
- the target is marked as half moved from its first moment until all is in it and was compared: nobody can open it by
  mistake, and moving once more begins it anew;
- values are carried as they are, with their numbers. What is encrypted stays so: no key is needed;
- every row is compared: for each table the number of rows and a digest of them, in the order of its key;
- the source is only read. When all is well, it is put where nobody goes on with it by mistake: the file gets another
  name, and PostgreSQL a mark. What the data folder holds beside stays where it is.
"""

import secrets
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import Connection, Row, Table, delete, insert, inspect, select, text

from triagebot.store import errors
from triagebot.store.data_folder import ELSEWHERE, PATIENCE, alone_in, note_elsewhere
from triagebot.store.encryption import Cipher
from triagebot.store.engines import DATABASE, Database, SQLite, database_of
from triagebot.store.engines.sqlite import SIDECARS
from triagebot.store.key_file import new_key
from triagebot.store.migrations import HALF_MOVED, MOVED_AWAY, NEWEST, mark, revision_of, upgrade
from triagebot.store.tables import lookup_key, metadata, photos
from triagebot.store.whole_file import keep_name

#: The file of SQLite's that is being filled, and one that was moved away (with the moment, in UTC).
FILLING, LEFT = f"{DATABASE}.moving", f"{DATABASE}.moved-%Y%m%dT%H%M%SZ"

#: Rows carried at once. A photo may have megabytes.
_AT_ONCE, _PHOTOS_AT_ONCE = 500, 8
#: Rows after which it is told how far a table is.
_TOLD_EACH = 20_000

#: What is told: of a table that so many rows are `carried` so far, that it is `done`, or that it was `compared`.
Stage = Literal["carried", "done", "compared"]
Told = Callable[[Stage, str, int], object]


@dataclass(frozen=True, slots=True)
class Moved:
    """What was moved: rows by table. `left` is where the source is now, `place` where the cases are."""

    rows: dict[str, int]
    left: Path | str
    place: Path | str


def to_postgresql(folder: Path, url: str, tell: Told, now: datetime, patience: float = PATIENCE) -> Moved:
    """Moves the cases of a data folder to an empty PostgreSQL. Raises StoreError, with the folder as it was."""
    own = SQLite(folder / DATABASE, patience)
    target = database_of(folder, url, patience)
    with alone_in(folder, patience):
        if not own.exists():
            noted = _noted(folder)
            words = errors.NO_CASES_YET if noted is None else errors.OTHER_CASES.format(place=noted)
            raise errors.fault(folder, words)
        _must_be_newest(own)
        with own.alone() as source:
            rows = _move(own, source, target, tell)
        # first of all, that the cases are elsewhere: else a folder without its file would look new
        note_elsewhere(folder / ELSEWHERE, str(target.place))
        left = folder / now.astimezone(UTC).strftime(LEFT)
        own.place.rename(left)
        keep_name(left)
    return Moved(rows, left, target.place)


def to_sqlite(folder: Path, url: str, tell: Told, patience: float = PATIENCE) -> Moved:
    """Moves the cases in PostgreSQL to a file of a data folder. Raises StoreError, with PostgreSQL as it was."""
    place, filling = folder / DATABASE, folder / FILLING
    database = database_of(folder, url, patience)
    with alone_in(folder, patience):
        if place.exists():
            raise errors.fault(place, errors.NOT_EMPTY)
        if (noted := _noted(folder)) not in (None, str(database.place)):
            raise errors.fault(folder, errors.OTHER_CASES.format(place=noted))
        _must_be_newest(database)
        for end in ("", *SIDECARS):  # what a move left behind that was cut off
            Path(f"{filling}{end}").unlink(missing_ok=True)
        target = SQLite(filling, patience)
        with database.alone() as source:
            with target.made():
                rows = _move(database, source, target, tell)
            filling.rename(place)
            keep_name(place)
            mark(source, MOVED_AWAY)
        (folder / ELSEWHERE).unlink(missing_ok=True)
    return Moved(rows, database.place, place)


def _noted(folder: Path) -> str | None:
    """Where the cases of a folder are, if not in it."""
    note = folder / ELSEWHERE
    return note.read_text("utf-8", "replace").strip() if note.is_file() else None


def _must_be_newest(database: Database) -> None:
    engine = database.connections(migrating=True)
    with database.told():
        held = revision_of(engine, database.place)
    if held is None:
        raise errors.fault(database.place, errors.NO_CASES_YET)
    if held != NEWEST:
        raise errors.fault(database.place, errors.OLDER.format(held=held, newest=NEWEST))


def _move(database: Database, source: Connection, target: Database, tell: Told) -> dict[str, int]:
    """Fills the target with what the source holds, and compares it; gives the numbers of rows."""
    with target.told():
        target.set_up(target.connections(migrating=True))
    with target.alone() as connection:
        _begin(target, connection)
    digests: dict[str, tuple[int, str]] = {}
    with target.alone() as connection:
        for each in metadata.sorted_tables:
            digests[each.name] = _carry(database, source, each, connection, tell)
        target.count_on(connection, database.numbers_given(source))
    with target.alone() as connection:
        for each in metadata.sorted_tables:
            held, wanted = _digest(_rows(target, connection, each)), digests[each.name]
            if held != wanted:
                words = errors.NOT_THE_SAME.format(
                    table=each.name, source=database.place, held=held[0], wanted=wanted[0]
                )
                raise errors.fault(target.place, words)
            if held[0]:
                tell("compared", each.name, held[0])
        mark(connection, NEWEST)
    return {name: count for name, (count, _) in digests.items()}


def _begin(target: Database, connection: Connection) -> None:
    """Makes empty tables, marked as half moved, in an empty database or in one that was marked so."""
    held = inspect(connection).get_table_names()
    if held:
        marked = "alembic_version" in held and connection.scalar(text("SELECT version_num FROM alembic_version"))
        if marked != HALF_MOVED:
            raise errors.fault(target.place, errors.NOT_EMPTY)
        metadata.drop_all(connection)
        connection.execute(text("DROP TABLE alembic_version"))
    lookup = secrets.token_bytes(32)
    cipher = Cipher((new_key().encode("ascii"),), lookup)
    upgrade(connection, cipher=cipher, lookup=cipher.encrypt(lookup.hex()))
    connection.execute(delete(lookup_key))  # the source has its own
    mark(connection, HALF_MOVED)


def _carry(database: Database, source: Connection, table: Table, target: Connection, tell: Told) -> tuple[int, str]:
    """Carries a table; gives how many rows it has, and their digest."""
    done, told = 0, 0
    digest = sha256()
    names = tuple(table.columns.keys())
    for rows in _rows(database, source, table):
        target.execute(insert(table), [dict(zip(names, row, strict=True)) for row in rows])
        _add(digest, rows)
        done += len(rows)
        if done - told >= _TOLD_EACH:
            told = done
            tell("carried", table.name, done)
    if done:
        tell("done", table.name, done)
    return done, digest.hexdigest()


def _rows(database: Database, connection: Connection, table: Table) -> Iterator[Sequence[Row[Any]]]:
    """All rows of a table in the order of its key, some at a time."""
    some = _PHOTOS_AT_ONCE if table is photos else _AT_ONCE
    key = [database.sorted_by(column) for column in table.primary_key.columns]
    options = {"stream_results": True, "yield_per": some}
    yield from connection.execute(select(table).order_by(*key), execution_options=options).partitions()


def _digest(partitions: Iterator[Sequence[Row[Any]]]) -> tuple[int, str]:
    digest, count = sha256(), 0
    for rows in partitions:
        _add(digest, rows)
        count += len(rows)
    return count, digest.hexdigest()


def _add(digest: Any, rows: Sequence[Row[Any]]) -> None:
    for row in rows:
        digest.update(repr(tuple(row)).encode())
