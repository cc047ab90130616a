"""What waits and what was set aside, by channel and way: for those who watch, who write nothing."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sqlalchemy import func, select

from triagebot.store.tables import inbox, outbox
from triagebot.store.transactions import View

Way = Literal["in", "out"]


@dataclass(frozen=True, slots=True)
class Backlog:
    """Messages of one channel that came in, or are to go out: how many wait, since when the oldest does, and how many
    were set aside."""

    channel: str
    way: Way
    waiting: int
    oldest: datetime | None
    aside: int


def backlogs(view: View, channels: Iterable[str]) -> tuple[Backlog, ...]:
    """A row for each of these channels and each way, zeros included, and for every other channel with messages that
    came in. Each look goes by an index: it does not take longer for what is done and sent."""
    came, aside = _waiting_in(view), _aside_in(view)
    names = dict.fromkeys((*channels, *came, *aside))
    rows = [Backlog(name, "in", *came.get(name, (0, None)), aside.get(name, 0)) for name in names]
    return (*rows, *(_out(view, name) for name in names))


def _waiting_in(view: View) -> dict[str, tuple[int, datetime | None]]:
    query = select(inbox.c.channel, func.count(), func.min(inbox.c.received_at)).where(inbox.c.state == "waiting")
    return {name: (count, oldest) for name, count, oldest in view.connection.execute(query.group_by(inbox.c.channel))}


def _aside_in(view: View) -> dict[str, int]:
    query = select(inbox.c.channel, func.count()).where(inbox.c.state == "aside").group_by(inbox.c.channel)
    return {row[0]: row[1] for row in view.connection.execute(query)}


def _out(view: View, channel: str) -> Backlog:
    waits = select(func.count(), func.min(outbox.c.made_at)).where(
        outbox.c.channel == channel, outbox.c.state.in_(("waiting", "sending"))
    )
    failed = select(func.count()).where(
        outbox.c.channel == channel, outbox.c.state == "failed", outbox.c.kind != "edit"
    )  # fmt: skip
    count, oldest = view.connection.execute(waits).one()
    return Backlog(channel, "out", count, oldest, view.connection.scalar(failed) or 0)
