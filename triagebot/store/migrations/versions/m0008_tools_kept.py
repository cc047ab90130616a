"""Until when a tool is kept for somebody that hangs there all the same."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    op.add_column("loans", sa.Column("kept", sa.DateTime(timezone=True)))
