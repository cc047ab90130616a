"""The delivery: receives what channels bring, has turns taken, and sends what comes of them.

    async with Delivery(guide, store) as delivery:
        await delivery.serve(channel)
        received = await delivery.receive(incoming)  # acknowledge to the platform after this, never before

One delivery a data folder (see `process_lock`), used from one event loop; turns are taken in the writer's thread.
"""

import asyncio
import logging
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack, closing, suppress
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

from triagebot.cases.loaded import Memory
from triagebot.cases.summaries import QUIET, refresh
from triagebot.cases.tickets import open_overlooked, wake_due
from triagebot.conversation import Guide
from triagebot.counter.requests import unanswered
from triagebot.counter.staff_message import Counter
from triagebot.delivery.alarm import Alarm
from triagebot.delivery.channel_notes import ChannelNotes
from triagebot.delivery.counter_page import CounterPage
from triagebot.delivery.counts import Counts, messages, place_of, short
from triagebot.delivery.inbox import Inbox, Received
from triagebot.delivery.leases import Lessee, elsewhere, holder_in
from triagebot.delivery.outbox import Outbox
from triagebot.delivery.photos import Fetching, PhotoFetcher
from triagebot.delivery.process_lock import staffed
from triagebot.delivery.queue import BUSY, Queue, can_wait, put_down
from triagebot.delivery.receipts import keep_receipts, recover
from triagebot.delivery.senders import log_floods, say_too_many, sender
from triagebot.delivery.tidying import tidied
from triagebot.delivery.writer import ReceiptJournal, Writer
from triagebot.handover.from_staff import FromTheRoom
from triagebot.handover.to_staff import HandOver, StaffRoom
from triagebot.messages.codes import new_code
from triagebot.messages.message import Channel, DeepLinks, HasAlbums, Incoming
from triagebot.rates import Floods
from triagebot.store.message_rows import OutboxRow
from triagebot.store.photos import Photos
from triagebot.store.post import Post
from triagebot.store.staff import Tickets
from triagebot.store.transactions import person_hash
from triagebot.turns import Turns

if TYPE_CHECKING:
    from triagebot.store import Store, Transaction

log = logging.getLogger(__name__)

T = TypeVar("T")

#: Seconds before a message on which the turn failed is tried again, for the second and the third time.
TRY_AGAIN = (1.0, 5.0)
#: Seconds that what is being sent gets to end, when the delivery closes.
GRACE = 5.0
#: Seconds between two looks for what another process on the same data has put out; every so many looks, cases are
#: counted.
LOOK_AROUND, LOOKS_A_COUNT = 5.0, 12


class Delivery(ChannelNotes):
    """`clock` gives aware times; `fresh` makes case codes; `rooms` are those of the staff, in which cases are laid out
    that need a person; `counts` says what happened since it was opened. With `several` there may be others on the same
    database, and some channels are served under leases (see `leases`)."""

    def __init__(
        self,
        guide: Guide,
        store: "Store",
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
        fresh: Callable[[], str] = new_code,
        *,
        try_again: tuple[float, float] = TRY_AGAIN,
        grace: float = GRACE,
        rooms: tuple[StaffRoom, ...] = (),
        several: bool = False,
    ) -> None:
        self.counts = Counts()
        self.lessee: Lessee | None = None
        self._several = several
        self.memory = Memory()
        self._guide = guide
        self._store = store
        self._clock = clock
        self._try_again = try_again
        self._grace = grace
        self._channels: dict[str, Channel] = {}
        self._hand_over = HandOver(guide, clock, rooms, self._has_albums)
        turns = Turns(guide, clock, fresh, self.memory, self._links, self._hand_over)
        self._inbox = Inbox(
            turns, clock, self.counts, self._channels, self._wake, self._retry, self._fetch, self._hands_over,
            Counter(guide, clock, self.memory), self._sleeps, FromTheRoom(guide, clock, self._hand_over),
        )  # fmt: skip
        self._floods = Floods()
        self.counter_page = CounterPage(guide, clock, self._inbox, self._do)
        self._catching_up: dict[str, asyncio.Task[None]] = {}
        self._open = ExitStack()

    async def __aenter__(self) -> Self:
        """Raises StoreError when another process delivers from this folder, or the database cannot be written."""
        self._loop = asyncio.get_running_loop()
        with ExitStack() as opened:
            opened.enter_context(staffed(self._store.folder))
            journal = opened.enter_context(closing(ReceiptJournal(self._store.folder, self._store.cipher)))
            self._writer = Writer(self._store)
            opened.callback(self._writer.close)
            lessee = Lessee(self._do, self._store.database, holder_in(self._store.folder)) if self._several else None
            self.lessee = lessee
            await self._do(lambda tx: keep_receipts(tx, journal.left_behind(), self._lay_again, elsewhere(tx, lessee)))
            journal.clear()
            write = partial(self._do, urgent=True)
            self._outbox = Outbox(
                write, journal, self._clock, self.counts, self._inbox.undelivered, self._lay_again, lessee
            )
            self._photos = PhotoFetcher(
                self._do,
                self._clock,
                self.counts,
                lambda tx, photo, kept: self._inbox.photo_settled(tx, photo, kept=kept),
            )
            await self._do(lambda tx: open_overlooked(tx, self._guide, self._clock()))
            await self._do(partial(self._lay_out, opening=True))
            for conversation in await self._do(lambda tx: Post(tx).waiting(tried=self._several)):
                self._catch_up(conversation, 0.0)
            self._alarm = Alarm(self.wake_due, self._clock)
            await self._alarm.open()
            self._looking = asyncio.create_task(self._keep_looking())
            self._queue = Queue(self._store, self._take_oldest, lambda who: self._catch_up(who, 0.0), self._send)
            if lessee is not None:
                await lessee.count()
                self._queue.open()
            self._open = opened.pop_all()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for task in self._catching_up.values():
            task.cancel()
        self._looking.cancel()
        log_floods(self._floods, self._store.cipher, closing=True)
        await asyncio.gather(self._alarm.close(), self._queue.close())
        await asyncio.gather(self._outbox.close(self._grace), self._photos.close(self._grace))
        if self.lessee is not None:
            await self.lessee.close()
        await asyncio.to_thread(self._open.close)

    @property
    def own(self) -> str:
        """A name that no other delivery has, for channels whose platform tells repeats by a name of ours: with the
        number of a message it is the same for every attempt, and no two messages share it."""
        return self._store.cipher.lookup_hash("desk", "own")[:16]

    # --- for those who watch ------------------------------------------------------------------------------------

    @property
    def channels(self) -> Mapping[str, Channel]:
        """Those that are served, by name."""
        return dict(self._channels)

    @property
    def writes(self) -> bool:
        """Whether the thread that writes is alive."""
        return self._writer.alive

    async def do(self, job: "Callable[[Transaction], T]") -> T:
        """Has a job of the store's done before all that waits. Raises StoreError."""
        return await self._do(job, urgent=True)

    # --- for channels -------------------------------------------------------------------------------------------

    async def serve(self, channel: Channel) -> None:
        """Sends for a channel from now on, and fetches photos from it if it can; first what still waits for it."""
        unknown, waiting = await self._do(partial(recover, channel, self.counts))
        if unknown:
            log.warning(
                "%s: %s went out, or not, just as the process ended; sent again", channel.name, messages(unknown)
            )
        self._channels[channel.name] = channel
        self._outbox.open(channel, waiting)
        if isinstance(channel, Fetching):
            self._photos.open(channel)
            for photo in await self._do(lambda tx: Photos(tx).waiting(channel.name)):
                self._photos.wake(channel.name, photo)

    def shut(self, channel: str) -> None:
        """Another process serves a channel from now on."""
        self._channels.pop(channel, None)
        self._outbox.shut(channel)
        self._photos.shut(channel)

    async def receive(self, incoming: Incoming) -> Received:
        """Takes one message. When this returns, it is on the disk, and it will be answered.

        Somebody who sends more than `rates.CAPS` allows is told so once, and the rest is passed over.

        Raises StoreError, with the message not received, when the database cannot be written.
        """
        alone = incoming.private and incoming.room is None
        flood = self._floods.passes_over(*((incoming.person, "") if alone else sender(incoming)))
        if flood is not None:
            self.counts.passed_over += 1
            if flood.count == 1:
                await self._do(partial(say_too_many, self._inbox, incoming))
            return Received("ignored")
        busy = self.lessee is not None and self.lessee.processes > 1 and self._writer.waiting >= BUSY
        accept = partial(put_down, self._inbox) if busy and can_wait(incoming) else self._inbox.accept
        # A message on which the turn fails is kept all the same, unless keeping it fails, too.
        return await asyncio.wrap_future(
            self._writer.post(
                self._held(incoming.channel, partial(accept, incoming)),
                instead=lambda error: self._held(
                    incoming.channel, partial(self._inbox.accept_failed, incoming, place_of(error))
                ),
                conversation=incoming.person,
                of=person_hash(self._store.cipher, incoming.person) if alone and incoming.beside is None else None,
            )
        )

    async def receive_all(self, batch: Iterable[Incoming], channel: str, place: str) -> list[Received]:
        """Takes what a channel has read at once, in this order; when all of it is on the disk, so is the `place` up to
        which the channel has read.

        Raises StoreError when something could not be received: then the place stays where it was, and the keys tell
        what had been received when it comes again.
        """
        received = await asyncio.gather(*(self.receive(incoming) for incoming in batch), return_exceptions=True)
        for each in received:
            if isinstance(each, BaseException):
                raise each
        await self._do(self._held(channel, lambda tx: Post(tx).read_to(channel, place)))
        return [each for each in received if isinstance(each, Received)]

    def may_speak(self, channel: str) -> None:
        """A channel may be allowed to speak again where it was not: what waits there is tried at once."""
        self._outbox.hasten(channel)

    async def idle(self) -> None:
        """Waits until every message has had its turn or was set aside, and nothing is left to send or to fetch."""
        while self._catching_up:
            await asyncio.wait(list(self._catching_up.values()))
        await asyncio.sleep(0)
        await self._outbox.idle()
        await self._photos.idle()
        await asyncio.sleep(0)
        await self._outbox.idle()  # photos may have followed

    async def wake_due(self) -> datetime | None:
        """Wakes the cases that have slept long enough, and tells their holders; gives when the next one has."""

        def wake(tx: "Transaction") -> datetime | None:
            self._inbox.tell_staff(tx, Post(tx), wake_due(tx, self._guide, self._clock()))
            return Tickets(tx).next_due()

        return await self._do(wake)

    async def tidy(self, kept: Mapping[str, timedelta]) -> dict[str, int]:
        """Deletes what was kept for as long as it may be; gives how many rows of each kind."""
        return await tidied(self._store, self._do, self.counts, kept, self._clock())

    # --- inside -------------------------------------------------------------------------------------------------

    async def _do(self, job: "Callable[[Transaction], T]", *, urgent: bool = False, of: str | None = None) -> T:
        """Has a job done; one that is only about a conversation is said to be `of` its hash."""
        return await asyncio.wrap_future(self._writer.post(job, urgent=urgent, of=of))

    def _held(self, channel: str, job: "Callable[[Transaction], T]") -> "Callable[[Transaction], T]":
        """A job with what was fetched from a channel."""
        return job if self.lessee is None else partial(self.lessee.with_fetched, channel, job)

    async def _take_oldest(self, conversation: str) -> bool:
        take = partial(self._inbox.try_oldest, conversation)
        return await asyncio.wrap_future(self._writer.post(take, of=conversation, lazy=True))

    def _links(self, code: str, channel: str) -> list[str]:
        """Called from the writer's thread. That of the channel itself first, then those that most people can open."""
        order = sorted(self._channels.values(), key=lambda each: (each.name != channel, each.name != "page"))
        return [link for each in order if isinstance(each, DeepLinks) and (link := each.deep_link(code))]

    def _has_albums(self, channel: str) -> bool:
        """Called from the writer's thread."""
        known = self._channels.get(channel)
        return isinstance(known, HasAlbums) and known.albums

    def _wake(self, channel: str, conversation: str, row: OutboxRow | None = None) -> None:
        """Called from the writer's thread."""
        with suppress(RuntimeError):  # the loop has ended: it is sent when the delivery is opened again
            self._loop.call_soon_threadsafe(self._outbox.wake, channel, conversation, row)

    async def look_around(self) -> None:
        """Sends what the process of a terminal has put out for others: it has no channel of its own to send it by.
        Tries again what had been set aside, where somebody wants that, lays out in the staff's room what waits for a
        place there, and empties the log where somebody was reading when it was due."""
        await self._do(self._lay_out)
        await self._do(self._end_unanswered)
        if self._store.log_is_due:
            await asyncio.to_thread(self._store.empty_log)
        for conversation in await self._do(lambda tx: Post(tx).waiting(tried=self._several)):
            self._catch_up(conversation, 0.0)
        await self._send()

    async def _send(self) -> None:
        """What another process has put out."""
        for name in tuple(self._channels):
            for conversation in await asyncio.to_thread(self._unsent, name):
                self._outbox.wake(name, conversation, new=False)

    def _unsent(self, channel: str) -> tuple[str, ...]:
        with self._store.read() as view:
            return Post(view).unsent(channel)

    async def count_cases(self) -> None:
        """Works out what is counted of cases that were left alone for a while; turns go on in between."""
        while await self._do(lambda tx: refresh(tx, self._clock() - QUIET)):
            await asyncio.sleep(0)

    async def _keep_looking(self) -> None:
        for look in count(1):
            await asyncio.sleep(LOOK_AROUND)
            log_floods(self._floods, self._store.cipher)
            try:
                await self.look_around()
                if self.lessee is not None:
                    await self.lessee.count()
                if look % LOOKS_A_COUNT == 0:
                    await self.count_cases()
            except Exception as error:
                log.warning("cannot look for what others put out: %s", place_of(error))

    def _lay_out(self, tx: "Transaction", *, opening: bool = False) -> None:
        """Lays out in the staff's room the cases that came to a person in a process that knew of no room, and those for
        which it was out of reach."""
        self._inbox.tell_others(tx, Post(tx), self._hand_over.lay_out_open(tx, opening=opening))

    def _lay_again(self, tx: "Transaction", body: Mapping[str, Any]) -> None:
        """The thread of a case was lost and is made anew."""
        self._inbox.tell_others(tx, Post(tx), self._hand_over.laid_again(tx, body["number"]))

    def _end_unanswered(self, tx: "Transaction") -> None:
        """Ends the visits, and the tools to be kept, that nobody answered before their time was over."""
        self._inbox.tell_others(tx, Post(tx), unanswered(tx, self._guide, self._clock()))

    def _hands_over(self, tx: "Transaction", channel: str) -> bool:
        """Called from the writer's thread."""
        return self._outbox.has_room and (self.lessee is None or self.lessee.holds(tx, channel))

    def _fetch(self, channel: str, photo: int) -> None:
        """Called from the writer's thread."""
        with suppress(RuntimeError):  # the loop has ended: it is fetched when the delivery is opened again
            self._loop.call_soon_threadsafe(self._photos.wake, channel, photo)

    def _sleeps(self) -> None:
        """Called from the writer's thread."""
        with suppress(RuntimeError):  # the loop has ended: it is woken when the delivery is opened again
            self._loop.call_soon_threadsafe(self._alarm.reset)

    def _retry(self, conversation: str) -> None:
        """Called from the writer's thread."""
        with suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._catch_up, conversation, self._try_again[0])

    def _catch_up(self, conversation: str, wait: float) -> None:
        """Tries what waits in a conversation again, after so many seconds."""
        if conversation not in self._catching_up:
            task = asyncio.create_task(self._try_until_done(conversation, wait))
            self._catching_up[conversation] = task
            task.add_done_callback(lambda _: self._caught_up(conversation))

    def _caught_up(self, conversation: str) -> None:
        del self._catching_up[conversation]

    async def _try_until_done(self, conversation: str, wait: float) -> None:
        await asyncio.sleep(wait)
        while True:
            try:
                if not await self._do(partial(self._inbox.try_oldest, conversation), of=conversation):
                    return
                continue
            except Exception as error:
                reason = place_of(error)
            try:
                left = await self._do(partial(self._inbox.failed_again, conversation, reason))
            except Exception as error:
                log.error("inbox: conversation %s cannot be served now: %s", short(conversation), place_of(error))
                left = 1
            if left:
                await asyncio.sleep(self._try_again[-1])
