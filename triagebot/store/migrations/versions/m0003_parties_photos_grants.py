"""Who takes part in a case, photos that are kept for the person who looks, and what may be done by the person who
knows a secret."""

import sqlalchemy as sa
from alembic import op

from triagebot.store.database import NUMBER

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "parties",
        sa.Column("case_id", NUMBER, nullable=False),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("chosen", NUMBER, nullable=False),
        sa.PrimaryKeyConstraint("case_id", "person", name="pk_parties"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_parties_case_id_cases", ondelete="CASCADE"),
    )
    op.create_index("ix_parties_person_chosen", "parties", ["person", "chosen"])
    op.execute("INSERT INTO parties (case_id, person, role, chosen) SELECT id, person, 'person', id FROM cases")
    op.create_table(
        "photos",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("case_id", NUMBER, nullable=False),
        sa.Column("channel", sa.Text, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("body", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_photos"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_photos_case_id_cases", ondelete="CASCADE"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_photos_case_id", "photos", ["case_id"])
    op.create_index("ix_photos_channel_state", "photos", ["channel", "state"])
    op.create_table(
        "grants",
        sa.Column("secret", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("case_id", NUMBER),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True)),
        sa.PrimaryKeyConstraint("secret", name="pk_grants"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_grants_case_id_cases", ondelete="CASCADE"),
    )
    op.create_index("ix_grants_case_id", "grants", ["case_id"])
