"""The steps from one form of the database to the next, run by `open_store` when some are pending.

A new step is a file in `versions/` (copy the newest for its shape) whose `revision` is added to `store/revisions.py`.
Tables are changed with `op.batch_alter_table`, which SQLite needs and PostgreSQL does not mind. Foreign keys are not
enforced while migrating, and are checked at the end. A step spells out the tables as they were at the time.
"""

from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

HERE = Path(__file__).parent


def configuration() -> Config:
    """What the migration library needs to know; there is no file of its own to keep."""
    config = Config()
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def upgrade(connection: Connection, to: str = "head", **given: Any) -> None:
    """Brings the database of this connection to a revision, inside the transaction that is open on it.

    What the steps need besides the connection is `given` by name: the `cipher`, and the key of its marks (`lookup`),
    closed, for a database that has none yet.
    """
    config = configuration()
    config.attributes |= {"connection": connection, **given}
    command.upgrade(config, to)
