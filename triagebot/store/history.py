"""Messages that were exchanged with somebody before, read again inside one transaction."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from triagebot.store.message_rows import OutboxRow
from triagebot.store.tables import conversations, inbox, outbox
from triagebot.store.transactions import View

#: How many messages of a conversation are searched for the one that somebody reacted to, the newest first.
SEARCHED = 50


def said(
    view: View, conversation: str, after: int = 0, most: int = 50, *, first: bool = False
) -> tuple[OutboxRow, ...]:
    """The last messages to a conversation behind row `after`, oldest first, `most` of them at most: all that is on the
    disk, sent or about to be. A change of an earlier message is none. `first`: the first of them, not the last."""
    found = select(outbox).where(outbox.c.conversation == conversation, outbox.c.id > after, outbox.c.kind != "edit")
    order = outbox.c.id if first else outbox.c.id.desc()
    rows = view.connection.execute(found.order_by(order).limit(most)).all()
    rows = rows[::-1] if first else rows
    return tuple(
        OutboxRow(
            id=row.id,
            channel=row.channel,
            conversation=conversation,
            kind=row.kind,
            body=view.cipher.decrypt_json(row.body),
            address={},
            attempts=row.attempts,
            more=place > 0,
        )
        for place, row in reversed(list(enumerate(rows)))
    )


def shown(view: View, conversation: str, event: str) -> Mapping[str, Any] | None:
    """The body of the message that the platform calls `event` (the `event` of its receipt, or one of its `others`);
    None if it is none of ours in this conversation.

    While the open question is being sent, its name there is not known yet: then it is the one that is meant, if no
    earlier one is.
    """
    sent = select(outbox.c.body, outbox.c.receipt).where(
        outbox.c.conversation == conversation, outbox.c.receipt.is_not(None), outbox.c.kind != "edit"
    )
    for row in view.connection.execute(sent.order_by(outbox.c.id.desc()).limit(SEARCHED)):
        receipt = view.cipher.decrypt_json(row.receipt)
        if event in (receipt.get("event"), *receipt.get("others", ())):
            return view.cipher.decrypt_json(row.body)
    under_way = (
        select(outbox.c.body)
        .join_from(conversations, outbox, conversations.c.live == outbox.c.id)
        .where(conversations.c.id == conversation, outbox.c.receipt.is_(None), outbox.c.attempts > 0)
    )
    body = view.connection.scalar(under_way)
    return None if body is None else view.cipher.decrypt_json(body)


def took(view: View, channel: str, key: str, conversation: str) -> bool:
    """Whether the message under the hash `key` was received in this conversation, as far as that is remembered."""
    row = select(inbox.c.id).where(inbox.c.channel == channel, inbox.c.key == key, inbox.c.conversation == conversation)
    return view.connection.scalar(row) is not None
