"""Which keys were thrown away, in a file beside the key file: a line for each, its id and the day.

A backup from before still holds these keys, so putting it back would bring back those who were forgotten since.
`restore` reads this file and forgets them again. It lies where no backup of the data folder replaces it by an older
one, and whoever restores needs what lies there anyway. `triagebot backup` puts a copy beside its backups, for the day
on which the machine is lost. An id is drawn, and says nothing of anybody: the file may be kept for good.
"""

import logging
import os
import re
from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import Engine, delete, select
from sqlalchemy.exc import SQLAlchemyError

from triagebot.store import errors
from triagebot.store.database import READING
from triagebot.store.tables import forgotten_keys
from triagebot.store.whole_file import PRIVATE, keep_name

log = logging.getLogger(__name__)

_LINE = re.compile(r"([0-9a-f]{16}) \d{4}-\d\d-\d\d")


#: What the copy beside backups is called.
BESIDE_BACKUPS = "triagebot.forgotten"


def forgotten_file(key_file: Path) -> Path:
    """Where it lies, for a key file."""
    return key_file.with_name(f"{key_file.name}.forgotten")


def forgotten_ids(file: Path) -> frozenset[str]:
    """The ids in it; none if there is no such file. A line that was cut short is none. Raises OSError."""
    with suppress(FileNotFoundError):
        text = file.read_text(encoding="ascii", errors="replace")
        return frozenset(found[1] for line in text.splitlines() if (found := _LINE.fullmatch(line)))
    return frozenset()


def add_forgotten(file: Path, ids: Iterable[str], today: date) -> None:
    """Adds those that are not in it; when this returns, they are on the disk. Raises OSError."""
    new = sorted(set(ids) - forgotten_ids(file))
    if not new:
        return
    made = not file.exists()
    with os.fdopen(os.open(file, os.O_CREAT | os.O_WRONLY | os.O_APPEND, PRIVATE), "ab") as out:
        # one that was cut short before stays a line of its own
        out.write(
            ("\n" if file.stat().st_size else "").encode() + "".join(f"{each} {today}\n" for each in new).encode()
        )
        out.flush()
        os.fsync(out.fileno())
    if made:
        keep_name(file)


def note_forgotten(engine: Engine, key_file: Path) -> None:
    """Adds the keys of a database that were thrown away. Where it cannot be done now, it is tried again with the next
    one, and whenever the store is tidied."""
    file = forgotten_file(key_file)
    with suppress(SQLAlchemyError):
        with engine.connect().execution_options(**{READING: True}) as connection, connection.begin():
            ids = connection.scalars(select(forgotten_keys.c.id)).all()
        if not ids:
            return
        try:
            add_forgotten(file, ids, datetime.now(UTC).date())
        except OSError as error:
            log.warning("%s: %s", file, errors.FORGOTTEN_UNWRITABLE.format(why=error.strerror or error))
            return
        with engine.begin() as connection:
            connection.execute(delete(forgotten_keys).where(forgotten_keys.c.id.in_(ids)))
