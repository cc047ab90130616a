"""Letters that were set aside: messages that no turn could be taken on, and messages that never went out.

None of their words is read here. `again` lets the bot take them, or send them, once more; a bot that runs notices
within seconds. `drop` deletes them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import delete, select, update

from triagebot.errors import UsageError
from triagebot.keeping.words import say
from triagebot.store import Transaction, View
from triagebot.store.tables import conversations, inbox, outbox


@dataclass(frozen=True, slots=True)
class Letter:
    """`id` is `in-NUMBER` for one that came in, `out-NUMBER` for one that was to go out."""

    id: str
    way: Literal["in", "out"]
    channel: str
    at: datetime
    reason: str


def letters(view: View) -> tuple[Letter, ...]:
    """All that were set aside, oldest first."""
    came = select(inbox).where(inbox.c.state == "aside")
    went = select(outbox).where(outbox.c.state == "failed", outbox.c.kind != "edit")
    rows = view.connection.execute
    found = [Letter(f"in-{row.id}", "in", row.channel, row.received_at, row.reason) for row in rows(came)]
    found += [Letter(f"out-{row.id}", "out", row.channel, row.made_at, row.reason) for row in rows(went)]
    return tuple(sorted(found, key=lambda letter: (letter.at, letter.id)))


def again(tx: Transaction, ids: Sequence[str]) -> None:
    """Raises UsageError, with nothing changed, for an id that no letter has."""
    came, went = _numbers(tx, ids)
    tx.connection.execute(
        update(inbox).where(inbox.c.id.in_(came)).values(state="waiting", attempts=0, reason="")
    )  # fmt: skip
    tx.connection.execute(
        update(outbox).where(outbox.c.id.in_(went)).values(state="waiting", attempts=0, not_before=None, reason="")
    )
    theirs = select(outbox.c.conversation).where(outbox.c.id.in_(went))
    # a message is only sent where somebody can be reached: sending it again is a sign that they can
    tx.connection.execute(update(conversations).where(conversations.c.id.in_(theirs)).values(gone_at=None))


def drop_letters(tx: Transaction, ids: Sequence[str]) -> None:
    """The key of one that came in stays, so that it does not come again. Raises UsageError as `again` does."""
    came, went = _numbers(tx, ids)
    tx.connection.execute(update(inbox).where(inbox.c.id.in_(came)).values(state="done", body=None, reason=""))
    tx.connection.execute(update(conversations).where(conversations.c.live.in_(went)).values(live=None))
    tx.connection.execute(delete(outbox).where(outbox.c.id.in_(went) | outbox.c.about.in_(went)))
    tx.forgot = True


def _numbers(tx: Transaction, ids: Sequence[str]) -> tuple[list[int], list[int]]:
    known = {letter.id for letter in letters(tx)}
    missing = [each for each in ids if each not in known]
    if missing:
        raise UsageError(say("letters-unknown", ids=", ".join(missing)))
    numbers: dict[str, list[Any]] = {"in": [], "out": []}
    for each in ids:
        way, _, number = each.partition("-")
        numbers[way].append(int(number))
    return numbers["in"], numbers["out"]
