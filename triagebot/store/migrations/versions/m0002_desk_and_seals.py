"""What the delivery works with, and seals: everything personal that the cases hold in clear is closed."""

import json
from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa
from alembic import context, op

from triagebot.store.database import NUMBER

revision = "0002"
down_revision = "0001"

#: So many rows at a time are closed.
_AT_ONCE = 500


def upgrade() -> None:
    _make_tables()
    cipher, lookup = context.config.attributes["cipher"], context.config.attributes["lookup"]
    op.execute(sa.table("seals", sa.column("name"), sa.column("body")).insert().values(name="look-up", body=lookup))
    cases = sa.table("cases", sa.column("id"), sa.column("person"))
    _each(cases, [cases.c.id], "person", lambda person: cipher.lookup_hash("person", json.loads(f'"{person}"')))
    events = sa.table("events", sa.column("case_id"), sa.column("seq"), sa.column("body"))
    _each(events, [events.c.case_id, events.c.seq], "body", cipher.encrypt)


def _each(table: sa.TableClause, key: list[sa.ColumnClause[Any]], column: str, closed: Any) -> None:
    """Puts `closed(value)` in place of every value of a column."""
    connection = op.get_bind()
    which = sa.and_(*(part == sa.bindparam(f"key_{part.name}") for part in key))
    change = table.update().where(which).values({column: sa.bindparam("closed")})
    after: tuple[Any, ...] | None = None
    while True:
        rows = connection.execute(_next(table, key, column, after)).all()
        if not rows:
            return
        connection.execute(
            change,
            [
                {f"key_{part.name}": value for part, value in zip(key, row, strict=False)} | {"closed": closed(row[-1])}
                for row in rows
            ],
        )
        after = tuple(rows[-1][:-1])


def _next(table: sa.TableClause, key: Iterable[Any], column: str, after: tuple[Any, ...] | None) -> sa.Select[Any]:
    key = list(key)
    found = sa.select(*key, table.c[column]).order_by(*key).limit(_AT_ONCE)
    return found if after is None else found.where(sa.tuple_(*key) > sa.tuple_(*after))


def _make_tables() -> None:
    op.create_table(
        "seals",
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_seals"),
    )
    op.create_table(
        "conversations",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("channel", sa.Text, nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.Column("live", NUMBER),
        sa.Column("gone_at", sa.DateTime(timezone=True)),
        sa.PrimaryKeyConstraint("id", name="pk_conversations"),
    )
    op.create_table(
        "inbox",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("channel", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("conversation", sa.Text, nullable=False),
        sa.Column("body", sa.Text),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_inbox"),
        sa.UniqueConstraint("channel", "key", name="uq_inbox_channel_key"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_inbox_conversation_state", "inbox", ["conversation", "state"])
    op.create_index("ix_inbox_state_received_at", "inbox", ["state", "received_at"])
    op.create_table(
        "outbox",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("channel", sa.Text, nullable=False),
        sa.Column("conversation", sa.Text, nullable=False),
        sa.Column("inbox_id", NUMBER),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("about", NUMBER),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("not_before", sa.DateTime(timezone=True)),
        sa.Column("receipt", sa.Text),
        sa.Column("reason", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_outbox"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_outbox_conversation_state", "outbox", ["conversation", "state"])
    op.create_index("ix_outbox_channel_state", "outbox", ["channel", "state"])
    op.create_table(
        "positions",
        sa.Column("channel", sa.Text, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("channel", name="pk_positions"),
    )
    op.create_table(
        "pictures",
        sa.Column("channel", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("channel", "digest", name="pk_pictures"),
    )
