"""Who helps at the shop, the cases that wait for a person, and who did what."""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_table(
        "staff",
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True)),
        sa.PrimaryKeyConstraint("person", name="pk_staff"),
    )
    op.create_table(
        "tickets",
        sa.Column("case_id", NUMBER, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("holder", sa.Text),
        sa.Column("until", sa.DateTime(timezone=True)),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True)),
        sa.Column("room", sa.Text),
        sa.Column("place", sa.Text),
        sa.PrimaryKeyConstraint("case_id", name="pk_tickets"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_tickets_case_id_cases", ondelete="CASCADE"),
    )
    op.create_index("ix_tickets_state_opened_at", "tickets", ["state", "opened_at"])
    op.create_table(
        "deeds",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("case_id", NUMBER),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_deeds"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_deeds_case_id_cases", ondelete="CASCADE"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_deeds_case_id", "deeds", ["case_id"])
