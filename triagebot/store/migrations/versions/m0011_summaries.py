"""What is counted of each case is kept beside it, to be worked out by whoever serves next; what is looked up often gets
an index: cases by the day on which they were begun, tickets by their thread, grants by their kind.
"""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    op.create_table(
        "summaries",
        sa.Column("case_id", NUMBER, nullable=False, autoincrement=False),
        sa.Column("changed_at", sa.DateTime(timezone=True)),
        sa.Column("touched_at", sa.DateTime(timezone=True)),
        sa.Column("outcome", sa.Text),
        sa.Column("edition", sa.Text),
        sa.Column("closed_at", sa.DateTime(timezone=True)),
        sa.Column("fitted", sa.Integer),
        sa.Column("body", sa.Text),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], "fk_summaries_case_id_cases", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("case_id", name="pk_summaries"),
    )
    op.execute("INSERT INTO summaries (case_id, changed_at) SELECT id, opened_at FROM cases")
    op.create_index("ix_summaries_changed_at", "summaries", ["changed_at"])
    op.create_index("ix_summaries_closed_at", "summaries", ["closed_at"])
    op.create_index("ix_cases_topic_opened_at", "cases", ["topic", "opened_at"])
    op.create_index("ix_tickets_room", "tickets", ["room"])
    op.create_index("ix_grants_kind", "grants", ["kind"])
