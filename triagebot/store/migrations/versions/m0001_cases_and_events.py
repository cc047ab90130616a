"""Cases and their events."""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "cases",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("topic", sa.Text, nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
        sa.UniqueConstraint("code", name="uq_cases_code"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_cases_person", "cases", ["person"])
    op.create_table(
        "events",
        sa.Column("case_id", NUMBER, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("case_id", "seq", name="pk_events"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_events_case_id_cases", ondelete="CASCADE"),
    )
