"""Looks what is wrong with a data folder and its key, and says of everything that it is well, or what to do about it.

Nothing is changed, made or brought up to date, and whatever it meets is a row: a damaged database, too. What the
settings and the platforms say is added by the command.
"""

import os
import shutil
import stat
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

from sqlalchemy import ColumnElement, Connection, Table, column, func, inspect, select, table

from triagebot.errors import StoreError
from triagebot.keeping.backup_file import fingerprint
from triagebot.keeping.rows import Row
from triagebot.keeping.words import say
from triagebot.store import DATABASE, errors, holds_cases
from triagebot.store.data_folder import PATIENCE
from triagebot.store.database import READING, faults_told
from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.engines import Database, database_of
from triagebot.store.errors import RESTORING
from triagebot.store.forgotten_file import forgotten_file
from triagebot.store.key_file import read_keys
from triagebot.store.migrations import NEWEST, REVISIONS
from triagebot.store.tables import events, inbox, lookup_key, outbox, tickets
from triagebot.store.tables import keys as key_rows

#: A disk with less room (bytes) than this, or than twice the database, is nearly full: a backup needs a copy of it.
LEAST_ROOM = 200_000_000
#: What waits for longer is stuck: nothing is tried again later than a minute after.
STUCK = timedelta(minutes=15)
#: The years in which this program can run: before it was written, and so long after, a clock is wrong.
YEARS = range(2025, 2100)
#: A clock that is further off than this from a platform's is wrong.
MOST_OFF = timedelta(minutes=2)
_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def examine(folder: Path, key_file: Path, now: datetime, url: str | None = None) -> list[Row]:
    """The rows about a data folder, its key, its database (the one at `url`, if given), the clock and the disk."""
    rows = [*_folder(folder), *_clock(now), *_disk(folder)]
    if not holds_cases(folder, url):
        return [*rows, Row("database", well=True, said=say("doctor-no-database"))]
    keys: tuple[bytes, ...] = ()
    try:
        keys = read_keys(key_file, folder)
        rows.append(Row("key", well=True, said=say("doctor-key", keys=", ".join(map(fingerprint, keys)))))
    except StoreError as error:
        rows.append(Row("key", well=False, said=str(error)))
    rows.append(_beside_the_key(key_file))
    return [*rows, *_database(database_of(folder, url, PATIENCE), keys, key_file, now)]


def _folder(folder: Path) -> Iterator[Row]:
    if not folder.is_dir():
        missing = not folder.exists()
        said = say("doctor-no-folder", folder=folder) if missing else f"{folder}: {errors.NO_FOLDER}"
        yield Row("data folder", missing, said)
        return
    wide = [path for path in (folder, *sorted(folder.rglob("*"))) if not path.is_symlink() and _mode(path) & _OTHERS]
    for path in wide:
        right = "700" if path.is_dir() else "600"
        yield Row("permissions", False, say("doctor-open-to-others", path=path, mode=f"{_mode(path):o}", right=right))
    if not os.access(folder, os.W_OK | os.X_OK):
        yield Row("data folder", False, f"{folder}: {errors.READ_ONLY}")
    elif (folder / RESTORING).is_dir() and not (folder / DATABASE).exists():
        yield Row("data folder", False, f"{folder}: {errors.RESTORE_CUT_OFF}")
    else:
        yield Row("data folder", True, str(folder))
    if not wide:
        yield Row("permissions", True, say("doctor-private"))


def _mode(path: Path) -> int:
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except OSError:
        return 0


def _beside_the_key(key_file: Path) -> Row:
    """Whether it can be written down whose keys were thrown away, which keeps a backup from bringing them back."""
    file = forgotten_file(key_file)
    well = os.access(file if file.exists() else file.parent, os.W_OK)
    return Row("key folder", well, say("doctor-key-folder" if well else "doctor-key-folder-read-only", file=file))


def _clock(now: datetime) -> Iterator[Row]:
    well, at = now.year in YEARS, f"{now.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
    yield Row("clock", well, at if well else say("doctor-clock", at=at))


def _disk(folder: Path) -> Iterator[Row]:
    there = next(path for path in (folder, *folder.absolute().parents) if path.is_dir())
    free = shutil.disk_usage(there).free
    database = folder / DATABASE
    needed = max(LEAST_ROOM, 2 * database.stat().st_size if database.is_file() else 0)
    name = "doctor-disk" if free >= needed else "doctor-disk-full"
    yield Row("disk", free >= needed, say(name, free=free // 1_000_000, needed=needed // 1_000_000))


def _database(database: Database, keys: tuple[bytes, ...], key_file: Path, now: datetime) -> Iterator[Row]:
    """Each look by itself: one that fails is a row, and the others are taken all the same."""
    looks: tuple[tuple[str, Callable[[Connection], Iterator[Row]]], ...] = (
        ("version", _version),
        ("key", lambda connection: _opens(connection, keys, key_file)),
        ("messages", lambda connection: _messages(connection, now)),
        ("notes", lambda connection: _overdue(connection, now)),
    )
    try:
        database.check()
        said = "doctor-whole" if database.ours else "doctor-answers"
        yield Row("database", True, say(said, size=f"{database.size() / 1e6:.1f}"))
    except (StoreError, OSError) as error:
        yield Row("database", False, str(error))
    engine = database.connections()
    for what, look in looks:
        try:
            with (
                faults_told(database.place, database.words_for),
                engine.connect().execution_options(**{READING: True}) as connection,
            ):
                yield from list(look(connection))
        except (StoreError, OSError) as error:
            yield Row(what, False, str(error))
    engine.dispose()


def _version(connection: Connection) -> Iterator[Row]:
    held = connection.scalar(select(column("version_num")).select_from(table("alembic_version"))) or "?"
    if held == NEWEST:
        yield Row("version", True, say("doctor-version", held=held))
    elif held in REVISIONS:
        yield Row("version", True, say("doctor-version-older", held=held, newest=NEWEST))
    else:
        yield Row("version", False, say("doctor-version-newer", held=held, newest=NEWEST))


def _opens(connection: Connection, keys: tuple[bytes, ...], key_file: Path) -> Iterator[Row]:
    if not keys:
        return
    newest = select(events.c.body).order_by(events.c.case_id.desc(), events.c.seq.desc()).limit(20)
    stored = [*connection.scalars(select(lookup_key.c.body)), *connection.scalars(newest)]
    own: dict[str, str] = {}
    if inspect(connection).has_table(key_rows.name):
        of_cases = select(key_rows.c.id, key_rows.c.body).where(key_rows.c.case_id.is_not(None))
        rows = connection.execute(of_cases.order_by(key_rows.c.case_id.desc()).limit(20))
        own = {row.id: row.body for row in rows}
    try:
        for body in stored:
            name, _, text = body.rpartition(":")
            with_it = keys if name not in own else (Cipher(keys, b"").decrypt_bytes(own[name]),)
            if name in own or not name:
                Cipher(with_it, b"").decrypt(text)
    except DecryptionError:
        yield Row("key", False, f"{key_file}: {errors.WRONG_KEY.format(file=key_file)}")
    else:
        yield Row("key", True, say("doctor-opens"))


def _messages(connection: Connection, now: datetime) -> Iterator[Row]:
    """What was set aside, and what waits too long, by channel."""
    under_way = outbox.c.state.in_(("waiting", "sending"))
    counts: tuple[tuple[str, Table, Sequence[ColumnElement[bool]]], ...] = (
        ("doctor-aside", inbox, [inbox.c.state == "aside"]),
        ("doctor-unsent", outbox, [outbox.c.state == "failed", outbox.c.kind != "edit"]),
        ("doctor-stuck-in", inbox, [inbox.c.state == "waiting", inbox.c.received_at < now - STUCK]),
        ("doctor-stuck-out", outbox, [under_way, outbox.c.made_at < now - STUCK]),
    )
    found = False
    for name, rows, which in counts:
        by_channel = select(rows.c.channel, func.count()).where(*which).group_by(rows.c.channel)
        for channel, count in connection.execute(by_channel):
            found = True
            yield Row("messages", False, say(name, channel=channel, count=count))
    if not found:
        yield Row("messages", True, say("doctor-messages"))


def _overdue(connection: Connection, now: datetime) -> Iterator[Row]:
    """Cases that were to wake long ago: while the bot runs, each wakes at its moment."""
    late = select(func.count()).where(tickets.c.state == "snoozed", tickets.c.until < now - STUCK)
    count = connection.scalar(late)
    yield Row("notes", not count, say("doctor-overdue", count=count) if count else say("doctor-notes"))


def clock_rows(server: str, now: datetime) -> Iterator[Row]:
    """Whether a platform's clock is like ours; nothing where it does not say, or is not reached."""
    try:
        with urlopen(Request(server, method="HEAD"), timeout=10) as answer:
            said = answer.headers.get("Date")
    except HTTPError as error:  # it answers, and says when
        said = error.headers.get("Date")
    except (OSError, ValueError):
        return
    if said is None:
        return
    try:
        off = abs((parsedate_to_datetime(said) - now).total_seconds())
    except (TypeError, ValueError):
        return
    well = off <= MOST_OFF.total_seconds()
    yield Row(
        "clock", well, say("doctor-clock-like" if well else "doctor-clock-off", server=server, seconds=round(off))
    )
