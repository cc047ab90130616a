"""People who talk one message at a time and wait for the answer: in the terminal, over JSON lines.

Rules of this file: a reply is handed out only after its events are committed; a message whose key was seen before
changes nothing and gets the standing reply again; when another process was faster, the turn is taken again on what
that process wrote.

Nothing of theirs is put into inbox or outbox: somebody who gets no answer, since we died on the way, asks again under
the same key. Turns are those of the delivery, which may be at work in another process on the same data; messages to
others go into the outbox, and that delivery sends them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING

from triagebot.cases.loaded import LoadedCase, Memory, unfolded
from triagebot.cases.thread import Words, not_heard
from triagebot.conversation import Case, Fact, Guide, Message, Reply, look
from triagebot.conversation.blocks import Block, Remark
from triagebot.conversation.reply import told
from triagebot.helping.seats import join_page
from triagebot.messages.codes import new_code
from triagebot.messages.message import Arrived, Incoming, Said
from triagebot.store import StoreConflict
from triagebot.turns import Turns, take

if TYPE_CHECKING:
    from triagebot.cases.change_channel import ToOthers
    from triagebot.cases.tickets import ToStaff
    from triagebot.counter.work import Attended
    from triagebot.delivery.inbox import Inbox
    from triagebot.handover.to_staff import StaffRoom
    from triagebot.store import Store, Transaction, View

#: How often a turn is taken again when another process wrote to the same case meanwhile.
_TRIES = 5
_LONG_AGO = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Heard:
    """What came of a message: the case (none for one of the staff at the bench), the reply, what was understood;
    `repeated` when its key was seen before."""

    case: Case | None
    reply: Reply
    understood: tuple[Fact, ...] = ()
    repeated: bool = False


@dataclass(frozen=True, eq=False)
class WaitingClient:
    """People talking through one store. `clock` gives aware times; `fresh` makes case codes. `bench`: the staff may
    work here, and somebody may become one of them. `rooms` are those of the staff, on channels of the delivery, and
    `address` is where people reach its pages, "" for nowhere. `heard_until`: the words of the shop up to which each
    person, by their hash, was told them here, as long as this client lives."""

    guide: Guide
    store: "Store"
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    fresh: Callable[[], str] = new_code
    memory: Memory = field(default_factory=Memory)
    bench: bool = False
    rooms: "tuple[StaffRoom, ...]" = ()
    address: str = ""
    heard_until: dict[str, datetime] = field(default_factory=dict)

    @cached_property
    def _turns(self) -> Turns:
        from triagebot.handover.to_staff import HandOver  # late: it needs the database library

        hand_over = HandOver(self.guide, self.clock, self.rooms)
        return Turns(self.guide, self.clock, self.fresh, self.memory, links=self._links, hand_over=hand_over)

    def _links(self, code: str, channel: str) -> tuple[str, ...]:
        return (join_page(self.address, code),) if self.address else ()

    @cached_property
    def _inbox(self) -> "Inbox":
        """Puts out what others are told, as a delivery does that serves no channel."""
        from triagebot.counter.staff_message import Counter  # late: those who only ask pay nothing for it
        from triagebot.delivery.counts import Counts
        from triagebot.delivery.inbox import Inbox

        counter = Counter(replace(self.guide, address=self.address or self.guide.address), self.clock, self.memory)
        return Inbox(self._turns, self.clock, Counts(), {}, _nothing, _nothing, _nothing, _never, counter, _nothing)

    def arrive(self, person: str, language: str, *, new: bool = False) -> Heard:
        """Somebody comes in: greeted with a new case, or shown where their unfinished one stands (unless `new`)."""
        if self.bench:
            self._open_overlooked()
        return self._retrying(lambda tx: self._take(tx, person, Arrived(new), language, None))

    def _open_overlooked(self) -> None:
        """Cases that wait in a store from before there was a queue are in it, with no delivery at work either."""
        from triagebot.cases.tickets import open_overlooked  # late: it needs the database library

        with self.store.begin() as tx:
            open_overlooked(tx, self.guide, self.clock())

    def hear(self, person: str, message: Message, language: str, key: str | None = None) -> Heard:
        """Somebody says something; a person without a case gets one. `key` tells a message that comes twice."""
        return self._retrying(lambda tx: self._take(tx, person, message, language, key))

    def news(self, person: str, language: str) -> Reply | None:
        """What came in for somebody since they were told last: the shop's words to a customer, what customers write
        to a member. None where nothing did; what is told here is not told again."""
        from triagebot.counter.news import not_told  # late: it needs the database library
        from triagebot.store.staff import Staff

        with self.store.read() as view:
            lookup_hash = view.lookup_hash(person)
            member = Staff(view).member(lookup_hash) if self.bench else None
            waits = member is not None and not_told(view, self.guide, member, self.clock())
            standing = view.current_version(lookup_hash) if member is None else None
            stored = view.case(standing[0]) if standing is not None else None
            had = unfolded(stored) if stored is not None else None
            said = self._not_heard(view, lookup_hash, had) if had is not None and had.case.handed else ()
        if had is not None and said:
            self.heard_until[lookup_hash] = said[-1].at
            return Reply(self._from_the_shop(had.case, said), "person")
        if not waits:
            return None
        with self.store.begin() as tx:
            found = self._came_in(tx, lookup_hash)
        return Reply(found, "person") if found else None

    def _retrying(self, work: "Callable[[Transaction], Heard]") -> Heard:
        for attempt in range(_TRIES):
            heard = dict(self.heard_until)
            try:
                with self.store.begin() as tx:
                    return work(tx)
            except StoreConflict:
                self.heard_until.update({person: heard.get(person, _LONG_AGO) for person in self.heard_until})
                if attempt == _TRIES - 1:
                    raise
        raise AssertionError("unreachable")

    def _take(
        self, tx: "Transaction", person: str, content: Arrived | Message, language: str, key: str | None
    ) -> Heard:
        lookup_hash = tx.lookup_hash(person)
        if key is not None:
            held = self.memory.current(tx, lookup_hash)
            if held is not None and key in held.messages:
                return Heard(held.case, look(self.guide, held.case, self.clock()), repeated=True)
        before = () if self.bench else self._for_staff(tx, content, language)
        news = self._came_in(tx, lookup_hash) if self.bench else ()
        if self.bench and (attended := self._attended(tx, lookup_hash, person, content, language)) is not None:
            if attended.reply is not None:
                self._tell(tx, (), attended.to_others)
                if attended.closed:
                    self._inbox.tell_closed(tx, attended.closed)
                return Heard(None, attended.reply.first(*news))
            content = attended.instead or content
            before = (Remark(attended.before),) if attended.before else ()
        had = self.memory.current(tx, lookup_hash)
        taken = take(self._turns, tx, lookup_hash, person, content, language, key)
        if taken.outcome == "unheard":
            return Heard(taken.case, taken.reply or Reply((), "stopped"))
        if taken.case is None:  # what they said is about no case of theirs
            self._tell(tx, taken.staff, taken.to_others)
            assert taken.reply is not None, "a person without a case is told so"
            before, taken = taken.reply.said, take(self._turns, tx, lookup_hash, person, Arrived(), language, key)
        assert taken.case is not None, "a person who comes in has a case"
        self._tell(tx, taken.staff, taken.to_others)
        # While a person has the case, nothing is said on other channels; here the person waits for an answer.
        reply = taken.reply or self._waits(taken.case)
        if had is not None:
            said = self._not_heard(tx, lookup_hash, had)
            if said:
                self.heard_until[lookup_hash] = said[-1].at
            reply = reply.first(*self._from_the_shop(had.case, said))
        reply = reply.first(*before)
        return Heard(taken.case, reply, taken.understood)

    def _for_staff(self, tx: "Transaction", content: Arrived | Message, language: str) -> tuple[Block, ...]:
        """What somebody is told who brings an invitation where the staff do not work: it still counts elsewhere."""
        from triagebot.messages.codes import STAFF_CODE, read_secret
        from triagebot.store.grants import Grants

        code = read_secret(content.text, STAFF_CODE) if isinstance(content, Message) else None
        if code is None or Grants(tx).find("staff", code, self.clock()) is None:
            return ()
        return (Remark(self.guide.language(language).texts("staff-not-here"), "staff-not-here"),)

    def _waits(self, case: Case) -> Reply:
        if not case.handed:
            return look(self.guide, case, self.clock())
        texts = self.guide.language(case.language).texts
        return told(texts("handover-passed-on", shop=self.guide.shop.name), "person", about="handover-passed-on")

    def _came_in(self, tx: "Transaction", lookup_hash: str) -> tuple[Block, ...]:
        """What came in for one of the staff, who is told of it now; nothing for anybody else."""
        from triagebot.counter.news import came_in

        return came_in(tx, self.guide, lookup_hash, self.clock())

    def _not_heard(self, view: "View", lookup_hash: str, had: LoadedCase) -> tuple[Words, ...]:
        """What the shop has said to them since they last wrote or were told here: nothing reaches them in between."""
        last = self.heard_until.get(lookup_hash, _LONG_AGO)
        return tuple(words for words in not_heard(view, had.number, had.case) if words.at > last)

    def _from_the_shop(self, case: Case, said: Sequence[Words]) -> tuple[Block, ...]:
        texts = self.guide.language(case.language).texts
        return tuple(
            Remark(
                texts("staff-from-person", name=words.name, shop=self.guide.shop.name, text=words.text),
                "staff-from-person",
            )
            for words in said
        )

    def _tell(self, tx: "Transaction", staff: "Sequence[ToStaff]", others: "Sequence[ToOthers]") -> None:
        """Puts out what others are told, with this turn or not at all."""
        if staff or others:
            from triagebot.store.post import Post

            self._inbox.tell_staff(tx, Post(tx), staff)
            self._inbox.tell_others(tx, Post(tx), others)

    def _attended(
        self, tx: "Transaction", lookup_hash: str, person: str, content: Arrived | Message, language: str
    ) -> "Attended | None":
        """What one of the staff is answered; None for everybody else."""
        channel, _, conversation = person.partition(":")
        said = Said(content.text) if isinstance(content, Message) else content
        return self._inbox.counter.attend(
            tx, lookup_hash, Incoming(channel, "", conversation, {}, said, self.clock(), language), said
        )


def _nothing(*_: object) -> None:
    """Nobody waits here for anything that goes out."""


def _never(*_: object) -> bool:
    """Nor is anything handed over."""
    return False
