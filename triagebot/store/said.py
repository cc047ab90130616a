"""What was said to somebody, read again for a channel that shows it itself."""

from sqlalchemy import select

from triagebot.store.cases import View
from triagebot.store.message_rows import Letter
from triagebot.store.tables import outbox
from triagebot.store.writing import decrypted_json


def said(view: View, conversation: str, after: int = 0, most: int = 50, *, first: bool = False) -> tuple[Letter, ...]:
    """The last messages to a conversation behind row `after`, oldest first, `most` of them at most: all that is on the
    disk, sent or about to be. A change of an earlier message is none. `first`: the first of them, not the last."""
    found = select(outbox).where(outbox.c.conversation == conversation, outbox.c.id > after, outbox.c.kind != "edit")
    order = outbox.c.id if first else outbox.c.id.desc()
    rows = view.connection.execute(found.order_by(order).limit(most)).all()
    rows = rows[::-1] if first else rows
    return tuple(
        Letter(
            id=row.id,
            channel=row.channel,
            conversation=conversation,
            kind=row.kind,
            body=decrypted_json(view.cipher, row.body),
            address={},
            attempts=row.attempts,
            more=place > 0,
        )
        for place, row in reversed(list(enumerate(rows)))
    )
