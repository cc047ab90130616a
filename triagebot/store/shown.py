"""Which message is meant, when somebody does something to an earlier one on its platform.

Decided here and nowhere else: how far back is looked for one of ours, and that one which is just going out may be
meant, too.
"""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from triagebot.store.cases import Transaction
from triagebot.store.tables import conversations, inbox, outbox
from triagebot.store.writing import decrypted_json

#: So many messages of a conversation are looked at, the newest first.
LOOKED_AT = 50


def shown(tx: Transaction, conversation: str, event: str) -> Mapping[str, Any] | None:
    """The body of the message that the platform calls `event` (the `event` of its receipt, or one of its `others`);
    None if it is none of ours in this conversation.

    While the open question is being sent, its name there is not known yet: then it is the one that is meant, if no
    earlier one is.
    """
    sent = select(outbox.c.body, outbox.c.receipt).where(
        outbox.c.conversation == conversation, outbox.c.receipt.is_not(None), outbox.c.kind != "edit"
    )
    for row in tx.connection.execute(sent.order_by(outbox.c.id.desc()).limit(LOOKED_AT)):
        receipt = decrypted_json(tx.cipher, row.receipt)
        if event in (receipt.get("event"), *receipt.get("others", ())):
            return decrypted_json(tx.cipher, row.body)
    under_way = (
        select(outbox.c.body)
        .join_from(conversations, outbox, conversations.c.live == outbox.c.id)
        .where(conversations.c.id == conversation, outbox.c.receipt.is_(None), outbox.c.attempts > 0)
    )
    body = tx.connection.scalar(under_way)
    return None if body is None else decrypted_json(tx.cipher, body)


def took(tx: Transaction, channel: str, key: str, conversation: str) -> bool:
    """Whether the message under the mark `key` was received in this conversation, as far as that is remembered."""
    row = select(inbox.c.id).where(inbox.c.channel == channel, inbox.c.key == key, inbox.c.conversation == conversation)
    return tx.connection.scalar(row) is not None
