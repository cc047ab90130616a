"""Sends what waits in the outbox: strictly in order within a conversation, side by side across conversations.

Decided here and nowhere else: when a message is tried again, and when it is given up.

- A message is marked as being sent, on the disk, before the attempt, and as sent, with its receipt, after it (first in
  the journal, see `receipts`). A message that a crash leaves in between is unknown: it is sent once more if the channel
  says that this is harmless, else given up. Where nothing else is under way, a message is marked when it is written,
  and handed over.
- A lane is one conversation with something to send. It ends when nothing is left, and is parked, taking up nothing but
  a timer, while it waits. So a slow conversation holds no other.
- Nothing polls: lanes begin when something was committed, when the delivery opens, and by timers.
"""

import asyncio
import logging
import random
from collections import deque
from collections.abc import Awaitable, Callable, Mapping
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from triagebot.delivery.counts import Counts, messages, place_of, short
from triagebot.delivery.lane import Lane, name_of
from triagebot.delivery.leases import Lessee, NotHeldError
from triagebot.delivery.writer import ReceiptJournal
from triagebot.errors import StoreError
from triagebot.messages.message import Channel, Gone, Refused, RetryAfter, Transient, Withheld, outgoing
from triagebot.rates import pause_before
from triagebot.store.forgetting import drop
from triagebot.store.message_rows import OutboxRow
from triagebot.store.post import Post
from triagebot.store.staff import settle

if TYPE_CHECKING:
    from triagebot.store import Transaction

log = logging.getLogger(__name__)

T = TypeVar("T")


class Posted(Protocol[T]):
    """What is written is posted here, `of` a conversation where it is only about that."""

    def __call__(self, job: "Callable[[Transaction], T]", *, of: str | None = None) -> Awaitable[T]:
        """The result, once it is committed."""


#: The longest pause (s) after something that may work later.
LONGEST_PAUSE = 60.0
#: How often a message is tried on which the channel's own code fails.
MOST_FAULTS = 5
#: How many messages are under way at the same time.
MOST_AT_ONCE = 500
#: A pause that is left over from before the delivery was opened is no longer than this (s), whatever the clock says
#: now.
LONGEST_LEFT_OVER = 60.0
#: Logged once, when nobody reads what goes to the staff's room.
ROOM_GONE = (
    "{channel}: the staff's room cannot be reached; cases wait in the queue. Let the bot in again: what is open is "
    "laid out there a minute later. Another room ({channel}_staff_room) takes a new start"
)


def pause(attempt: int, draw: Callable[[], float] = random.random) -> float:
    """Seconds before the next attempt, with up to half of it left to chance."""
    return pause_before(attempt, LONGEST_PAUSE, 1.0) * (0.5 + 0.5 * draw())


class Outbox:
    """Sends for every channel that is opened. `write` posts a job to the writer, where `undelivered` is told the
    body of each row that is given up, and `made_anew` that of each whose thread was lost and made anew; used in one
    event loop only."""

    def __init__(
        self,
        write: "Posted[OutboxRow | float | None]",
        journal: ReceiptJournal,
        clock: Callable[[], datetime],
        counts: Counts,
        undelivered: "Callable[[Transaction, Mapping[str, Any]], None]" = lambda tx, body: None,
        made_anew: "Callable[[Transaction, Mapping[str, Any]], None]" = lambda tx, body: None,
        lessee: Lessee | None = None,
    ) -> None:
        self._lessee = lessee
        self._write = write
        self._undelivered = undelivered
        self._made_anew = made_anew
        self._journal = journal
        self._clock = clock
        self._counts = counts
        self._channels: dict[str, Channel] = {}
        self._lanes: dict[str, Lane] = {}
        self._ready: deque[str] = deque()
        self._at_work = 0
        self._closing = False
        self._told_of_the_room = False
        #: What was handed over when it was too late.
        self._late: list[OutboxRow] = []
        self._idle = asyncio.Event()
        self._idle.set()

    def open(self, channel: Channel, waiting: tuple[str, ...]) -> None:
        """Begins to send for a channel, first what waits already in these conversations."""
        self._channels[channel.name] = channel
        for conversation in waiting:
            self.wake(channel.name, conversation)

    def shut(self, channel: str) -> None:
        """Another process sends for a channel from now on: what is under way is left to it."""
        self._channels.pop(channel, None)
        for conversation, lane in list(self._lanes.items()):
            if lane.channel.name != channel:
                continue
            if lane.task is not None:
                lane.task.cancel()
                continue
            if lane.timer is not None:
                lane.timer.cancel()
            del self._lanes[conversation]
        self._ready = deque(each for each in self._ready if each in self._lanes)
        if not self._lanes:
            self._idle.set()

    @property
    def has_room(self) -> bool:
        """Whether a message that is handed over is sent at once. Any thread may ask."""
        return not self._closing and len(self._lanes) < MOST_AT_ONCE

    def wake(self, channel: str, conversation: str, handed: OutboxRow | None = None, *, new: bool = True) -> None:
        """Something was put out for this conversation, and is `new`; `handed` is marked as being sent already."""
        known = self._channels.get(channel)
        if known is None or self._closing:
            self._late += [] if handed is None else [handed]
            return  # it waits until the channel is opened
        lane = self._lanes.get(conversation)
        if lane is not None:
            if handed is None:
                lane.woken = True
                self._hasten(conversation, lane, new and lane.withheld)
                return
            lane.handed = handed
            self._hasten(conversation, lane, True)
            return
        self._lanes[conversation] = Lane(known, handed)
        self._idle.clear()
        self._ready.append(conversation)
        self._begin()

    def hasten(self, channel: str) -> None:
        """We may be allowed to speak again where we were not: what waits there is tried at once."""
        for conversation, lane in list(self._lanes.items()):
            if lane.channel.name == channel:
                lane.again = lane.timer is None
                self._hasten(conversation, lane, lane.withheld)

    def _hasten(self, conversation: str, lane: Lane, wanted: bool) -> None:
        if wanted and lane.timer is not None and not self._closing:
            lane.timer.cancel()
            self._unpark(conversation)

    async def idle(self) -> None:
        """Until nothing is left to send, parked lanes included."""
        await self._idle.wait()

    async def close(self, grace: float) -> None:
        """Begins nothing more, and gives what is under way so many seconds to end; what does not is unknown then."""
        self._closing = True
        self._ready.clear()
        for lane in self._lanes.values():
            if lane.timer is not None:
                lane.timer.cancel()
        tasks = [lane.task for lane in self._lanes.values() if lane.task is not None]
        if tasks:
            _, late = await asyncio.wait(tasks, timeout=grace)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)
        await self._return_what_is_late()

    async def _return_what_is_late(self) -> None:
        """What was handed over while we were closing is not under way, and must not look as if it were."""
        try:
            await self._write(lambda tx: None)  # after this, the writer knows that nothing is taken any more
            late = self._late + [lane.handed for lane in self._lanes.values() if lane.handed is not None]
            for row in late:
                await self._write(partial(self._put_back, row, None, "closing"))
        except Exception as error:
            log.error("outbox: what could not be sent any more counts as unknown: %s", place_of(error))

    # --- lanes --------------------------------------------------------------------------------------------------

    def _begin(self) -> None:
        while self._ready and self._at_work < MOST_AT_ONCE and not self._closing:
            conversation = self._ready.popleft()
            lane = self._lanes[conversation]
            self._at_work += 1
            lane.task = asyncio.create_task(self._go(conversation, lane))

    async def _go(self, conversation: str, lane: Lane) -> None:
        """Sends until nothing is left or a pause is due."""
        wait: float | None = None
        try:
            wait = await self._drain(conversation, lane)
        except NotHeldError as error:
            log.info("outbox: %s", error)
        except Exception as error:  # a row that cannot be read; the rows of others can
            log.error("outbox: conversation %s cannot be served: %s", short(conversation), place_of(error))
            wait = LONGEST_PAUSE
        finally:
            self._at_work -= 1
            lane.task = None
            if wait is not None and not self._closing:
                wait = 0.0 if lane.withheld and lane.again else wait
                lane.timer = asyncio.get_running_loop().call_later(wait, self._unpark, conversation)
            else:
                del self._lanes[conversation]
                if not self._lanes:
                    self._idle.set()
            self._begin()

    def _unpark(self, conversation: str) -> None:
        lane = self._lanes[conversation]
        lane.timer, lane.due = None, True
        self._ready.append(conversation)
        self._begin()

    async def _drain(self, conversation: str, lane: Lane) -> float | None:
        """Gives the seconds to wait before going on, None when nothing is left.

        What is handed over was written when nothing else was under way, so it goes before what is claimed beside it.
        """
        following: OutboxRow | float | None = None
        behind: OutboxRow | None = None
        while True:
            if following is None:
                following, behind = behind, None
            if following is None and lane.handed is None:
                now = None if lane.due else self._clock()
                lane.woken = lane.due = False
                following = await self._retry_until_stored(
                    conversation, partial(self._claim, lane.channel.name, conversation, now)
                )
            if lane.handed is not None:
                behind = following if isinstance(following, OutboxRow) else None
                lane.woken = lane.woken or isinstance(following, float)
                following, lane.handed = lane.handed, None
            if isinstance(following, float):
                return min(following, LONGEST_LEFT_OVER)
            if following is None:
                if not lane.woken:
                    return None
                continue
            if self._closing:
                await self._return(following, behind)
                return None
            more = following.more
            following, wait = await self._deliver(lane, following)
            if wait is not None:
                await self._return(behind)
                return wait
            if following is None and behind is None and not any((more, lane.handed, lane.woken)):
                return None

    async def _return(self, *rows: OutboxRow | None) -> None:
        """Puts back what is not going to be sent now."""
        for row in rows:
            if row is not None:
                await self._retry_until_stored(
                    row.conversation, partial(self._put_back, row, None, "closing" if self._closing else "waits")
                )

    async def _deliver(self, lane: Lane, row: OutboxRow) -> tuple[OutboxRow | None, float | None]:
        """One attempt. Gives the next message if it could be claimed along the way, or the pause that is due."""
        channel, withheld, lane.withheld, lane.again = lane.channel, lane.withheld, False, False
        if self._lessee is not None and not self._lessee.good(channel.name):
            raise NotHeldError(f"{channel.name}: its lease has run out")
        try:
            receipt = await channel.deliver(outgoing(row))
        except Withheld as error:
            lane.withheld = True
            if not withheld:
                log.warning(
                    "%s: we may not speak in %s now; what waits goes out once we may", channel.name, name_of(row)
                )
            return None, await self._later(row, error.seconds, "withheld")
        except RetryAfter as error:
            log.info("%s: the platform wants a pause of %g s in %s", channel.name, error.seconds, name_of(row))
            return None, await self._later(row, error.seconds, "retry after")
        except Gone:
            gone = await self._retry_until_stored(row.conversation, partial(self._gone, row))
            count = int(gone) if isinstance(gone, float) else 0
            log.warning("%s: %s cannot be reached any more; %s given up", channel.name, name_of(row), messages(count))
            return None, None
        except Refused as error:
            self._counts.refused += 1
            log.error("%s: message %d was refused (%s)", channel.name, row.id, error)
            await self._retry_until_stored(
                row.conversation, partial(self._fail, row, f"refused: {error}", error.receipt)
            )
            return None, None
        except Transient as error:
            wait = pause(row.attempts)
            if row.attempts.bit_count() == 1:  # the first, the second, the fourth …: an outage fills no log
                log.warning("%s: message %d not sent, attempt %d (%s)", channel.name, row.id, row.attempts, error)
            return None, await self._later(row, wait, f"{error}")
        except Exception as error:  # the channel's own fault: not for ever, since it may well be the message's
            log.error("%s: message %d failed in our own code: %s", channel.name, row.id, place_of(error))
            if row.attempts >= MOST_FAULTS:
                self._counts.refused += 1
                await self._retry_until_stored(row.conversation, partial(self._fail, row, place_of(error), {}))
                return None, None
            return None, await self._later(row, pause(row.attempts), place_of(error))
        encrypted = self._journal.note(row.id, receipt)
        try:
            following = await self._retry_until_stored(row.conversation, partial(self._sent, row, encrypted, receipt))
        finally:
            self._journal.done(forgotten=bool(row.body.get("last")))
        self._counts.sent += 1
        return following if isinstance(following, OutboxRow) else None, None

    async def _later(self, row: OutboxRow, seconds: float, why: str) -> float:
        self._counts.retried += 1
        await self._retry_until_stored(
            row.conversation, partial(self._put_back, row, self._clock() + timedelta(seconds=seconds), why)
        )
        return seconds

    async def _retry_until_stored(
        self, of: str, job: "Callable[[Transaction], OutboxRow | float | None]"
    ) -> OutboxRow | float | None:
        """Has a job done, however long the database cannot be written: what was sent must not be sent again."""
        attempt = 1
        while True:
            try:
                return await asyncio.shield(self._write(job, of=of))
            except StoreError as error:
                if self._closing or isinstance(error, NotHeldError):
                    raise
                log.error("outbox: cannot be written, attempt %d: %s", attempt, error)
            await asyncio.sleep(pause(attempt))
            attempt += 1

    # --- jobs for the writer ------------------------------------------------------------------------------------

    def _claim(
        self, channel: str, conversation: str, now: datetime | None, tx: "Transaction"
    ) -> OutboxRow | float | None:
        self._check(tx, channel)
        return Post(tx).claim(conversation, now)

    def _check(self, tx: "Transaction", channel: str) -> None:
        if self._lessee is not None:
            self._lessee.check(tx, channel)

    def _sent(
        self, row: OutboxRow, receipt: str, told: Mapping[str, Any], tx: "Transaction"
    ) -> OutboxRow | float | None:
        self._check(tx, row.channel)
        post = Post(tx)
        settle(tx, row.channel, row.conversation, row.body, told)
        if told.get("anew"):
            self._made_anew(tx, row.body)
        if row.next is not None:
            if post.sent_before(row, receipt, row.next):
                return row.next
        else:
            post.sent(row.id, row.conversation, receipt)
        if row.body.get("last"):  # who wanted to be forgotten was told
            drop(tx, row.conversation, row.id)
        return post.claim(row.conversation, self._clock()) if row.more else None

    def _put_back(self, row: OutboxRow, at: datetime | None, why: str, tx: "Transaction") -> None:
        self._check(tx, row.channel)
        Post(tx).put_back(row.id, at, why)

    def _fail(self, row: OutboxRow, why: str, told: Mapping[str, Any], tx: "Transaction") -> None:
        settle(tx, row.channel, row.conversation, row.body, told)
        Post(tx).failed(row.id, why)
        self._undelivered(tx, row.body)

    def _gone(self, row: OutboxRow, tx: "Transaction") -> float:
        post = Post(tx)
        bodies = post.gone(row.conversation, self._clock(), "gone")
        for body in bodies:
            self._undelivered(tx, body)
        tx.after_commit.append(self._count_gone)
        if "number" in row.body and not self._told_of_the_room:
            self._told_of_the_room = True
            log.error("%s", ROOM_GONE.format(channel=row.channel))
        return float(len(bodies))

    def _count_gone(self) -> None:
        self._counts.gone += 1
