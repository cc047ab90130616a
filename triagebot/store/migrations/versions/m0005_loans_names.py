"""Tools that were lent out, and what people call the cases that they take part in."""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.add_column("parties", sa.Column("body", sa.Text))
    op.create_table(
        "loans",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("tool", sa.Text, nullable=False),
        sa.Column("case_id", NUMBER),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("due", sa.DateTime(timezone=True)),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_loans"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_loans_case_id_cases", ondelete="SET NULL"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_loans_case_id", "loans", ["case_id"])
    op.create_index("ix_loans_tool", "loans", ["tool"])
