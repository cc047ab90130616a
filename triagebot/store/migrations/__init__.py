"""The steps from one form of the database to the next, run by the store when some are pending.

A new step is a file in `versions/` (copy the newest for its shape) whose `revision` is added to `REVISIONS`. Tables are
changed with `op.batch_alter_table`, which SQLite needs and PostgreSQL does not mind. Foreign keys are not enforced
while migrating, and are checked at the end. A step spells out the tables as they were at the time.

The migration library is loaded only where a step is pending.
"""

import logging
import secrets
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, column, inspect, select, table, update

from triagebot.store import errors
from triagebot.store.database import READING
from triagebot.store.encryption import Cipher
from triagebot.store.engines import Database

if TYPE_CHECKING:
    from alembic.config import Config

log = logging.getLogger(__name__)

HERE = Path(__file__).parent

#: Oldest first: they say whether a database is ours, older or newer.
REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009", "0010", "0011", "0012", "0013")
NEWEST = REVISIONS[-1]
#: From this one on, what is personal is encrypted.
ENCRYPTED_SINCE = "0002"

#: What stands in place of a revision while everything is moved here, and where everything was moved away (`moving`).
HALF_MOVED, MOVED_AWAY = "half-moved", "moved-away"
_MARKED = {HALF_MOVED: errors.HALF_MOVED, MOVED_AWAY: errors.MOVED_AWAY}


def revision_of(engine: Engine, place: Path | str) -> str | None:
    """The revision of a database, None of an empty one. Raises StoreError for one that is newer, or not ours, or from
    which or to which everything was moved."""
    with engine.connect().execution_options(**{READING: True}) as connection:
        tables = inspect(connection).get_table_names()
        if not tables:
            return None
        if "alembic_version" not in tables:
            raise errors.fault(place, errors.FOREIGN)
        held: str | None = connection.scalar(select(column("version_num")).select_from(table("alembic_version")))
    if held in _MARKED:
        raise errors.fault(place, _MARKED[held])
    if held not in REVISIONS:
        raise errors.fault(place, f"{errors.NEWER} (it is at revision {held}; this triagebot knows up to {NEWEST})")
    return held


def migrate(database: Database, keys: tuple[bytes, ...], held: str | None = None) -> None:
    """Runs what is pending since the revision that is held, all in one transaction; the log says that it does, and how
    long it took."""
    begun = time.monotonic()
    if held is not None:
        log.info("%s: going from revision %s to %s; do not end it meanwhile", database.place, held, NEWEST)
    lookup = secrets.token_bytes(32)
    cipher = Cipher(keys, lookup)
    with database.connections(migrating=True).begin() as connection:
        try:
            upgrade(connection, cipher=cipher, lookup=cipher.encrypt(lookup.hex()))
        except ValueError as error:  # a text that we never wrote
            why = f"holds what cannot be encrypted ({error}): {errors.DAMAGED}"
            raise errors.fault(database.place, why) from error
        broken = database.broken_reference(connection)
        if broken is not None:
            raise errors.fault(database.place, f"rows of {broken} point nowhere: {errors.DAMAGED}")
    if held is not None:
        log.info("%s: went from revision %s to %s in %.1f s", database.place, held, NEWEST, time.monotonic() - begun)


def mark(connection: Connection, revision: str) -> None:
    """Writes down in the database of this connection at which revision it is, or one of the marks."""
    connection.execute(update(table("alembic_version", column("version_num"))).values(version_num=revision))


def configuration() -> "Config":
    """What the migration library needs to know; there is no file of its own to keep."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def upgrade(connection: Connection, to: str = "head", **given: Any) -> None:
    """Brings the database of this connection to a revision, inside the transaction that is open on it.

    The steps take by name what else they need: the `cipher`, and the key of its lookup hashes (`lookup`), encrypted,
    for a database that has none yet.
    """
    from alembic import command

    config = configuration()
    config.attributes |= {"connection": connection, **given}
    command.upgrade(config, to)
