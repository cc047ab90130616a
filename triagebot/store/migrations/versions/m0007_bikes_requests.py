"""Bikes that stand in the shop without their owners, and what people ask of the shop: visits, tools kept for them."""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    op.create_table(
        "bikes",
        sa.Column("case_id", NUMBER, nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("wanted", sa.DateTime(timezone=True)),
        sa.Column("done_at", sa.DateTime(timezone=True)),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("case_id", name="pk_bikes"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_bikes_case_id_cases", ondelete="CASCADE"),
    )
    op.create_table(
        "requests",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("case_id", NUMBER, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("day", sa.Text),
        sa.Column("part", sa.Text),
        sa.Column("tool", sa.Text),
        sa.Column("until", sa.DateTime(timezone=True)),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("answered_at", sa.DateTime(timezone=True)),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_requests"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_requests_case_id_cases", ondelete="CASCADE"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_requests_case_id", "requests", ["case_id"])
    op.create_index("ix_requests_kind_day", "requests", ["kind", "day"])
    op.create_index("ix_requests_tool", "requests", ["tool"])
