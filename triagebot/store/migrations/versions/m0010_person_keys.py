"""A key for each case and each person.

They are made as they are needed, and by the job that tidies: to encrypt everything anew here would keep everybody
waiting.
"""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    op.create_table(
        "keys",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("case_id", NUMBER),
        sa.Column("person", sa.Text),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_keys"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_keys_case_id_cases", ondelete="CASCADE"),
    )
    op.create_index("ix_keys_case_id", "keys", ["case_id"])
    op.create_index("ix_keys_person", "keys", ["person"])
    op.create_table(
        "forgotten_keys",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_forgotten_keys"),
    )
