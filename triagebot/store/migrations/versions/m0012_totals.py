"""What was counted of many cases together, so that a report need not read each of them. It is worked out by the job
that tidies, and by the next report.
"""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    op.create_table(
        "totals",
        sa.Column("topic", sa.Text, nullable=False),
        sa.Column("block", NUMBER, nullable=False),
        sa.Column("mark", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("topic", "block", name="pk_totals"),
    )
