"""The turns that wait, by the heads of their conversations: found one after the other in an index that holds only what
waits, so it does not matter how much waits in one of them.
"""

from sqlalchemy import func, select

from triagebot.store.tables import inbox
from triagebot.store.transactions import View

_first, _next = inbox.alias(), inbox.alias()
_heads = select(func.min(_first.c.conversation).label("who")).where(_first.c.state == "waiting").cte(recursive=True)
_after = select(func.min(_next.c.conversation)).where(_next.c.state == "waiting", _next.c.conversation > _heads.c.who)
_heads = _heads.union_all(select(_after.scalar_subquery()).where(_heads.c.who.is_not(None)))
_tries = select(inbox.c.attempts).where(inbox.c.conversation == _heads.c.who, inbox.c.state == "waiting")
#: A conversation, and how often its head was tried.
_HEADS = select(_heads.c.who, _tries.order_by(inbox.c.id).limit(1).scalar_subquery().label("tries"))


def heads(view: View, most: int) -> tuple[str, ...]:
    """Of so many conversations in which messages wait, those whose oldest one was never tried."""
    rows = view.connection.execute(_HEADS.where(_heads.c.who.is_not(None)).limit(most))
    return tuple(row.who for row in rows if row.tries == 0)
