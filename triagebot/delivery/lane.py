"""One conversation in which something goes out (see `outbox`)."""

import asyncio
from dataclasses import dataclass

from triagebot.delivery.counts import short
from triagebot.messages.message import Channel
from triagebot.store.message_rows import OutboxRow


@dataclass(slots=True)
class Lane:
    """One conversation: `woken` when something came while it was at work, `handed` when that is marked as being sent
    already; `timer` while it is parked, and `due` after that: the timer knows how long it was, the clock on the wall
    may have been put back. `withheld` while we may not speak there, `again` once that may have changed while it was at
    work."""

    channel: Channel
    handed: OutboxRow | None = None
    task: "asyncio.Task[None] | None" = None
    timer: asyncio.TimerHandle | None = None
    woken: bool = False
    due: bool = False
    withheld: bool = False
    again: bool = False


def name_of(row: OutboxRow) -> str:
    return f"conversation {short(row.conversation)}"
