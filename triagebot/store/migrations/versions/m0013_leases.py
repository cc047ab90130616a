"""Which of several processes serves a channel, and until when; and an index of messages that wait for their turn."""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    op.create_table(
        "leases",
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("holder", sa.Text, nullable=False),
        sa.Column("number", NUMBER, nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_leases"),
    )
    waiting = sa.text("state = 'waiting'")
    op.create_index("ix_inbox_waiting", "inbox", ["conversation", "id"], sqlite_where=waiting, postgresql_where=waiting)
