"""To the staff's room: a case at which a person must look is laid out there, and what its person writes is passed on.

Rules of this file:
- which room a case goes to: that of its person's own channel, else the first that is set up;
- what is handed over: every case that ends with a person, whatever the reason, in the transaction of that turn, where
  there is anybody to have it; trying it out as one of the staff is not;
- without a room the members are told in private (see `to_members`);
- what is passed on: what comes in while a person has the case (see `conversation.handing`), under the case's code, and
  photos once they are kept (see `photo_letters`); that the person goes on with the bot is told, and so is what the bot
  names then;
- each case has a place of its own in the room, and every message there begins with its code: so an answer finds its
  case (see `staff_room`);
- a case that came to a person in another process is laid out when the delivery looks around; one that has no place, or
  whose place is in another room than the one that is set up, when the delivery is opened;
- where the room was out of reach, each open case is tried anew every `TRY_AGAIN` with all that was said meanwhile, in
  the thread that it has there;
- a case that is closed, wherever that was, is told in its place, which is closed with it;
- who wants to be forgotten is: what waits to go to the room is deleted, and the room is told that all is gone.
"""

import logging
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.photo_places import words_along
from triagebot.cases.thread import thread_of
from triagebot.cases.tickets import tries_it_out
from triagebot.conversation import Case, Event, Guide, Message, Reply
from triagebot.conversation.blocks import Choice, Offers, Question, Remark, WhatNext
from triagebot.conversation.events import Concluded, Handed, Remarked, Returned
from triagebot.conversation.outcome import NAMED
from triagebot.conversation.scene import FOR_THEM
from triagebot.counter.bench_answer import apart
from triagebot.counter.case_summary import counter_text, shown_time
from triagebot.errors import StoreError
from triagebot.handover.photo_letters import PhotoLetters
from triagebot.handover.to_members import ToMembers
from triagebot.messages.message import Content, Edited, Said, Sent
from triagebot.store.forgetting import forget_messages
from triagebot.store.photos import Photos
from triagebot.store.post import Post
from triagebot.store.staff import Staff, Tickets
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction

log = logging.getLogger(__name__)

#: What is looked for between two starts was made by another process just now.
OF_LATE = timedelta(minutes=5)
#: How long after a room was found out of reach it is tried again.
TRY_AGAIN = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class StaffRoom:
    """A room of the staff's on a channel, and its address there."""

    channel: str
    address: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class HandOver:
    """`clock` gives aware times; `rooms` are those that are set up, in order; `albums` says of a channel by its name
    whether several photos are one message there. Called from the writer's thread."""

    guide: Guide
    clock: Callable[[], datetime]
    rooms: tuple[StaffRoom, ...] = ()
    albums: Callable[[str], bool] = lambda channel: False

    @property
    def texts(self) -> Texts:
        """Those of the staff's language."""
        return self.guide.language(self.guide.shop.language).texts

    def room_for(self, channel: str) -> StaffRoom | None:
        own = (room for room in self.rooms if room.channel == channel)
        return next(own, self.rooms[0] if self.rooms else None)

    @property
    def members(self) -> ToMembers:
        return ToMembers(self.guide, self.clock)

    # --- handing over -----------------------------------------------------------------------------------------------

    def hands_over(self, tx: "Transaction", lookup_hash: str, case: Case) -> tuple[Event, ...]:
        """What comes to a turn that ends with a person, where there is a room to go to, or a member."""
        if case.now.outcome != "person" or tries_it_out(Staff(tx).member(lookup_hash)):
            return ()
        if not self.rooms and not Staff(tx).members():
            return ()
        return (Handed(self.clock()),)

    def telling(self, case: Case, reply: Reply) -> Reply:
        """What is said to a turn that hands the case over, and how to take it back."""
        texts = self.guide.language(case.language).texts
        here = self.guide.shop.hours.is_open(self.clock())
        told = texts("handover-handed" if here else "handover-handed-shut", shop=self.guide.shop.name)
        offers = (Choice("bot", texts("handover-back")),)
        # Nobody is asked to tell the bot more, which keeps quiet from now on.
        said = reply.without(WhatNext, Question, Offers).before_question(Remark(told, "handover-handed"))
        return replace(said, blocks=(*said.blocks, Offers(offers)))

    def after(
        self, tx: "Transaction", number: int, lookup_hash: str, before: bool, case: Case, events: Sequence[Event],
        content: Content | Message,
    ) -> tuple[ToOthers, ...]:  # fmt: skip
        """What the room is told because of a turn. `before`: whether a person had the case before it; `lookup_hash`
        is that of the person who wrote."""
        by = tx.parties(number).get(lookup_hash, "person") if before or case.handed else "person"
        if not self.rooms:
            return self.members.after(tx, number, by, before, case, events, content)
        if any(isinstance(event, Handed) for event in events):
            return (*self.laid_out(tx, number, case), *self._said(tx, number, case, content, by, whole=True))
        if case.handed:
            kept = any(isinstance(event, Remarked) and event.what == FOR_THEM for event in events)
            return tuple(self._said(tx, number, case, content, by)) if kept or isinstance(content, Sent) else ()
        went_on = (self.letter(tx, number, case.code, "handover-room-went-on"),) if before else ()
        return (*went_on, *self.named(tx, number, case, events))

    def named(self, tx: "Transaction", number: int, case: Case, events: Sequence[Event]) -> tuple[ToOthers, ...]:
        """What the room is told where the bot has named something after all."""
        ended = next((event for event in events if isinstance(event, Concluded) and event.outcome in NAMED), None)
        if ended is None or case.closed is not None or not self._lies(tx, case.code):
            return ()
        texts = self.texts
        names = [texts(f"fastening-{name}.short") for name in ended.named if texts.has(f"fastening-{name}", "short")]
        return (self.letter(tx, number, case.code, "handover-room-named", names=apart(texts, names)),)

    def _said(
        self, tx: "Transaction", number: int, case: Case, content: Content | Message, by: str, *, whole: bool = False
    ) -> Iterator[ToOthers]:
        """What somebody wrote. `whole`: it made the bot hand over, and may be a mere press."""
        who = "mentor" if by == "mentor" else "person"
        match content:
            case Said(text) | Message(text=text) | Edited(text):
                corrects = "yes" if isinstance(content, Edited) else "no"
                if text.strip():
                    yield self.letter(
                        tx, number, case.code, "handover-room-said", who=who, text=text, corrects=corrects
                    )
            case Sent(what, note=note):
                if what != "photo" and not whole:
                    yield self.letter(tx, number, case.code, "handover-room-thing", who=who, what=what)
                if note.strip() and not words_along(case, content):
                    yield self.letter(tx, number, case.code, "handover-room-said", who=who, text=note, corrects="no")
            case _:
                return

    # --- where a case lies ------------------------------------------------------------------------------------------

    def place(self, tx: "Transaction", code: str) -> tuple[str, StaffRoom] | None:
        """The lookup hash of the conversation that a case has in a room, and that room; None where it has none."""
        for room in self.rooms:
            lookup_hash = tx.lookup_hash(f"{room.channel}:room/{code}")
            if Post(tx).found(lookup_hash).who is not None:
                return lookup_hash, room
        return None

    def lies_on(self, tx: "Transaction", code: str) -> str:
        """The channel of the room where a case has its place; "" where it has none."""
        found = self.place(tx, code)
        return found[1].channel if found is not None else ""

    def worded(self, own: str, text: str) -> str:
        """The id of a channel's own text, or of that for all others."""
        return own if self.texts.has(own) else text

    def _lies(self, tx: "Transaction", code: str) -> bool:
        return self.place(tx, code) is not None

    def laid_out(self, tx: "Transaction", number: int, case: Case, *, anew: bool = False) -> tuple[ToOthers, ...]:
        """The card of a case, with the photos that are there, at its place in the room; `anew`: at a new place."""
        found = self.place(tx, case.code)
        if found is None or anew:
            room = self.room_for(self._channel(tx, number))
            assert room is not None, "only who has a room lays out"
            title = self.texts("handover-topic", code=case.code)
            address = self._thread(tx, found, room) or {**room.address, "opens": title}
            Post(tx).set_address(tx.lookup_hash(f"{room.channel}:room/{case.code}"), room.channel, address)
        now, texts, photos = self.clock(), self.texts, Photos(tx).count(number)
        card = counter_text(self.guide, texts, case, photos, now, lambda at: shown_time(self.guide, texts, at, now), [])
        own = f"handover-room-how-{self.lies_on(tx, case.code)}"
        how = Remark(texts(self.worded(own, "handover-room-how")), "handover-room-how")
        first = self._letter(tx, number, case.code, Remark(card), how)
        return (
            first,
            *(self._meanwhile(tx, number, case) if anew else ()),
            *self.photos.kept(tx, number, case.code),
        )

    def laid_again(self, tx: "Transaction", number: int) -> tuple[ToOthers, ...]:
        """The card of a case once more, with the photos that are there, where what stood in its place is lost; nothing
        for a case that is closed."""
        readable = _readable(tx, number)
        return () if readable is None or readable[1].closed is not None else self.laid_out(tx, number, readable[1])

    def _thread(self, tx: "Transaction", found: tuple[str, StaffRoom] | None, room: StaffRoom) -> Mapping[str, Any]:
        """The thread that a case has in a room already; empty where it has none."""
        who = Post(tx).found(found[0]).who if found is not None else None
        here = who is not None and "opens" not in who.address and _is_in(who.address, room)
        return who.address if who is not None and here else {}

    def _meanwhile(self, tx: "Transaction", number: int, case: Case) -> Iterator[ToOthers]:
        """What was said by both before there was a place for it, or while it was out of reach."""
        for words in thread_of(tx, number, case):
            if words.name:
                yield self.letter(tx, number, case.code, "handover-room-answered", name=words.name, text=words.text)
            else:
                yield self.letter(
                    tx, number, case.code, "handover-room-said", who="person", text=words.text, corrects="no"
                )  # fmt: skip

    def lay_out_open(self, tx: "Transaction", *, opening: bool = False) -> tuple[ToOthers, ...]:
        """Lays out the cases of late that a person was asked for and that have no place yet, and those whose place was
        out of reach a while ago; when the delivery is `opening`, all without a place, and those whose place is gone or
        is in another room than the one that is set up."""
        told: list[ToOthers] = []
        now = self.clock()
        gone = Post(tx).out_of_reach(now if opening else now - TRY_AGAIN) if self.rooms else frozenset()
        for ticket in Tickets(tx).queue() if self.rooms else ():
            late = now - ticket.opened_at <= OF_LATE
            if ticket.reason == "staff" or not (opening or late or gone):
                continue
            code = tx.code_of(ticket.case)
            found = self.place(tx, code)
            missing = found is None and (opening or late)
            if missing or (found is not None and (found[0] in gone or (opening and not self._stands(tx, *found)))):
                readable = _readable(tx, ticket.case)
                told += self.laid_out(tx, readable[0].id, readable[1], anew=True) if readable is not None else ()
        return tuple(told)

    def _stands(self, tx: "Transaction", lookup_hash: str, room: StaffRoom) -> bool:
        who = Post(tx).found(lookup_hash).reached
        return who is not None and _is_in(who.address, room)

    def closed(self, tx: "Transaction", number: int) -> tuple[ToOthers, ...]:
        """What is told in a case's place when it is closed: nothing comes behind it there."""
        stored = tx.case(number)
        closed = unfolded(stored).case.closed if stored is not None else None
        if stored is None or closed is None or not self._lies(tx, stored.code):
            return ()
        shut = {"closes": True}
        return (self.letter(tx, number, stored.code, "handover-room-closed", beside=shut, name=closed.by),)

    def _channel(self, tx: "Transaction", number: int) -> str:
        """The channel on which the people of a case are reached."""
        post = Post(tx)
        for lookup_hash in tx.parties(number):
            who = post.found(lookup_hash).who
            if who is not None:
                return who.channel
        return ""

    # --- photos -----------------------------------------------------------------------------------------------------

    @property
    def photos(self) -> PhotoLetters:
        return PhotoLetters(self)

    def photo_settled(self, tx: "Transaction", number: int, *, kept: bool | None) -> tuple[ToOthers, ...]:
        """What comes of a photo that is there now, or never will be, or cannot be had just now (None). If its case
        cannot be read, nobody is told, and no photo waits for it."""
        found = Photos(tx).whose(number)
        readable = _readable(tx, found[0]) if found is not None else None
        if found is None or readable is None:
            return ()
        if kept is None:
            return self.photos.delayed(tx, *readable, number, found[1])
        return self.photos.settled(tx, *readable, number, found[1], kept=kept)

    # --- letters ----------------------------------------------------------------------------------------------------

    def letter(
        self, tx: "Transaction", number: int, code: str, text: str, /, *, under: object = None,
        beside: Mapping[str, Any] | None = None, **variables: object,
    ) -> ToOthers:  # fmt: skip
        """Something to the room about a case; `under` is the message there that it answers."""
        more = {**(beside or {}), **({} if under is None else {"under": under})}
        return self._letter(tx, number, code, Remark(self.texts(text, code=code, **variables), text), **more)

    def _letter(self, tx: "Transaction", number: int, code: str, *said: Remark, **beside: Any) -> ToOthers:
        found = self.place(tx, code)  # where there is none, nobody is told
        return ToOthers(
            found[0] if found is not None else "", None, Reply(said, "person"), aside=True,
            language=self.guide.shop.language, beside={"number": number, **beside},
        )  # fmt: skip

    def to_person(
        self, tx: "Transaction", stored: "StoredCase", case: Case, text: str, name: str, place: Mapping[str, Any],
        /, *, more: Sequence[str] = (), takes: bool = False, **variables: object,
    ) -> tuple[ToOthers, ...]:  # fmt: skip
        """What a member says to whose case it is, wherever they are reached; where they are not, the room is told.
        Words for somebody at a terminal wait there until they write; photos do not."""
        texts = self.guide.language(case.language).texts
        words = Remark(texts(text, name=name, shop=self.guide.shop.name, **variables), text)
        relayed = {"code": case.code, "number": stored.id, "under": place.get("under"), "takes": takes}
        relayed |= {"by": place["member"]} if "member" in place else {}
        reply = Reply((words, *(Remark(each) for each in more)), "person")
        told = tuple(
            ToOthers(lookup_hash, case, reply, beside={"relayed": relayed}) for lookup_hash in reached(tx, stored.id)
        )
        why = "handover-unreachable" if "count" in variables else "handover-waits"
        return told or (self.back(tx, stored.id, case.code, why, place),)

    def back(self, tx: "Transaction", number: int, code: str, text: str, place: Mapping[str, Any]) -> ToOthers:
        """Something to who wrote from this place: to the room, or to the member in private."""
        if "member" not in place:
            return self.letter(tx, number, code, text, under=place.get("under"))
        words = Reply((Remark(self.texts(text, code=code), text),), "person")
        return ToOthers(place["member"], None, words, aside=True, language=self.guide.shop.language)

    # --- what goes wrong, and what goes away ------------------------------------------------------------------------

    def undelivered(self, tx: "Transaction", body: Mapping[str, Any]) -> tuple[ToOthers, ...]:
        """What the room, or the member who wrote in private, is told when an answer did not reach whom it was for. If
        it was to tell them that a person has their case, none has: they would meet silence, and not know why.

        A case of which nothing has reached the room yet counts as out of reach there: it is tried again."""
        relayed = body.get("relayed")
        if not relayed:
            if "number" in body:
                self._give_up_place(tx, body["number"])
            return ()
        readable = _readable(tx, relayed["number"]) if relayed.get("takes") else None
        if readable is not None and readable[1].handed:
            stored, case = readable
            tx.append(stored.id, len(case.events), rows_of((Returned(self.clock(), "bot"),), {}))
        if relayed.get("by"):
            language = self.guide.shop.language
            failed = Remark(self.texts("handover-failed", code=relayed["code"]), "handover-failed")
            return (ToOthers(relayed["by"], None, Reply((failed,), "person"), aside=True, language=language),)
        return (self.letter(tx, relayed["number"], relayed["code"], "handover-failed", under=relayed["under"]),)

    def _give_up_place(self, tx: "Transaction", number: int) -> None:
        found = self.place(tx, tx.code_of(number))
        who = Post(tx).found(found[0]).reached if found is not None else None
        if found is not None and who is not None and "opens" in who.address:
            Post(tx).gone(found[0], self.clock(), "no place in the room")

    def forgotten(self, tx: "Transaction", own: Mapping[int, str]) -> tuple[ToOthers, ...]:
        """Takes back what waits to go to the room about these cases, which are about to be deleted; gives the last
        that the room is told of each."""
        told: list[ToOthers] = []
        for number, code in own.items():
            found = self.place(tx, code)
            if found is not None:
                forget_messages(tx, found[0], sys.maxsize)
                told.append(
                    self.letter(tx, number, code, "handover-room-forgotten", beside={"last": True, "closes": True})
                )
        return tuple(told)


def _is_in(address: Mapping[str, Any], room: StaffRoom) -> bool:
    return all(address.get(name) == part for name, part in room.address.items())


def _readable(tx: "Transaction", number: int) -> "tuple[StoredCase, Case] | None":
    """A case as it lies and as it stands; None for one that is not there, or cannot be read. What nobody waits for must
    not fail on such a case: it would be tried for ever, and keep others waiting."""
    try:
        stored = tx.case(number)
        return None if stored is None else (stored, unfolded(stored).case)
    except StoreError as error:
        log.error("handover: nothing is done with a case: %s", error)
        return None
