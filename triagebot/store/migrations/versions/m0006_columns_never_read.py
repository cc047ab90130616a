"""Columns that nothing reads go: which message an outbox row answers, where a ticket lies, when it was closed.

The tables are changed in place and not rebuilt: a table that was made anew might give out the numbers of rows that were
deleted once more, and a platform tells repeats by the numbers of the outbox.
"""

from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    op.drop_column("outbox", "inbox_id")
    op.drop_column("tickets", "place")
    op.drop_column("tickets", "closed_at")
