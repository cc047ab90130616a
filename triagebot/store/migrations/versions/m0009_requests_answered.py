"""When a request was answered goes: nothing reads it, and the deed of the member who answered says it.

The table is changed in place: made anew, it might give out the numbers of requests that were deleted once more.
"""

from alembic import op

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    op.drop_column("requests", "answered_at")
