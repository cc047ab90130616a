"""Takes one message of one person through a turn, inside a transaction that somebody else commits.

Rules of this file, for every channel alike:
- all that can fail on what somebody said is done before anything is written;
- a message changes the case that is current when its turn comes; who has none gets a new one;
- a press counts if its message shows the case as it stands. The same press twice changes nothing and says nothing;
  any other press of an older message changes nothing either, and gets the open question once more;
- a corrected message is taken as if it had been right at once, for the questions that it had answered;
- what is no text is answered in one sentence, and its caption like a text;
- whoever reaches an outcome is given a link to the case's card, if people can reach the pages;
- where a person must look, the case's ticket is opened with the turn (see `tickets`);
- what is about helping somebody elsewhere is answered first, and shared out last (see `mentoring`);
- a turn that ends with a person hands the case over, where the staff have a room (see `relay`); while a person has it,
  what comes in answers and corrects nothing, and gets no reply as a rule.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property, reduce
from typing import TYPE_CHECKING, Any, Literal

from triagebot.cases import change_channel
from triagebot.cases.change_channel import Elsewhere
from triagebot.cases.loaded import LoadedCase, Memory, continued, rows_of, unfolded
from triagebot.conversation import (
    Case,
    Event,
    Fact,
    Guide,
    Message,
    Reply,
    Result,
    Turn,
    follow,
    greet,
    look,
    open_case,
    plain,
    turn,
)
from triagebot.conversation import told as told_so
from triagebot.conversation.case import Asked, Handed, Remarked, Spoke, Withdrew
from triagebot.conversation.housekeeping import erases
from triagebot.conversation.mentoring import labelled
from triagebot.conversation.outcome import afterwards
from triagebot.conversation.reply import CardLink, Offers, Picture, Question, Remark
from triagebot.conversation.wording import listing, said
from triagebot.helping.mentoring import Links, Mentoring, no_links
from triagebot.helping.seats import Made, Spoken
from triagebot.messages.codes import new_code
from triagebot.messages.incoming import Arrived, Chose, Commanded, Content, Edited, Pressed, Said, Sent
from triagebot.messages.outgoing import turn_number
from triagebot.store import StoreConflict
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.cases.tickets import ToStaff
    from triagebot.handover.to_staff import Relay
    from triagebot.store import Transaction

#: applied: a turn was taken; double: the same press again; stale: a press of an older message; added: a further part of
#: an album; forgotten: all deleted.
Outcome = Literal["applied", "double", "stale", "added", "forgotten"]

#: What is said to something that is no text and no photo, by what it is.
_ANSWERED: Mapping[str, str] = {"locked": "sent-locked"}

#: How often another code is tried when one is in use already.
_CODES = 5


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of a message. There is no reply to a press that came twice, or to a further part of an album; a case
    that was forgotten is kept nowhere but here. `number` is that of the case in the store;
    `elsewhere` is what others are told because of it, `staff` what those are who have it."""

    outcome: Outcome
    case: Case | None
    reply: Reply | None
    understood: tuple[Fact, ...] = ()
    number: int = 0
    elsewhere: tuple[Elsewhere, ...] = ()
    staff: "tuple[ToStaff, ...]" = ()


@dataclass(frozen=True, slots=True)
class _Planned:
    """What a message is going to do to a case: the events that come to it, and what is said."""

    case: Case
    reply: Reply
    events: tuple[Event, ...]
    understood: tuple[Fact, ...] = ()
    outcome: Outcome = "applied"
    new: bool = False


@dataclass(frozen=True, eq=False)
class Clerk:
    """`clock` gives aware times; `fresh` makes case codes; `memory` saves reading the same case again and again;
    `links` lead in with a code (see `mentoring`); without a `relay` nothing is handed over."""

    guide: Guide
    clock: Callable[[], datetime]
    fresh: Callable[[], str] = new_code
    memory: Memory = field(default_factory=Memory)
    links: Links = no_links
    relay: "Relay | None" = None

    @cached_property
    def _mentoring(self) -> Mentoring:
        return Mentoring(self.guide, self.clock, self.fresh, self.links)

    def take(
        self, tx: "Transaction", mark: str, person: str, content: Content | Message, language: str, key: str | None
    ) -> Taken:
        """One message, one turn. `mark` is that of `person`; `key` is kept with the events, to find them again.

        A `Message` is somebody's who has just been shown the open question, and whose choice belongs to that.

        Raises StoreError when the case cannot be read, StoreConflict when it was continued elsewhere meanwhile.
        """
        held = self._chosen(tx, mark, content) or self.memory.current(tx, mark)
        at = self._mentoring.attend(tx, mark, person, held, content, language)
        if isinstance(at, Spoken):
            return Taken("applied", at.case, at.reply, number=at.number, elsewhere=at.elsewhere)
        held, content, seat = at.held, at.content, at.seat
        code = change_channel.code_said(content.text) if isinstance(content, Said) else None
        if code is not None and (held is None or held.case.code != code):
            return self._named(tx, mark, person, held, code, language)
        if held is not None and isinstance(content, Pressed) and _again(held, content):
            return Taken("double", held.case, None)
        if held is not None and _further(held, content) and not content.note.strip():  # type: ignore[union-attr]
            return Taken("added", held.case, None, number=held.number)
        for attempt in range(_CODES):
            planned = self._plan(held, content, language)
            if seat is not None and not planned.new:
                planned = _by(planned, seat.by)
            if erases(planned.events):
                return self._forget(tx, mark, person, planned)
            planned = self._handed_over(tx, mark, self._in_time(tx, held, planned))
            try:
                number = self._write(tx, mark, person, held, planned, _beside(content, key))
                break
            except StoreConflict:
                if not planned.new or attempt == _CODES - 1:
                    raise
        reply = self._with_card(tx, number, held, planned)
        if seat is not None and held is not None and not planned.new:
            made = Made(held.case, planned.case, planned.events, planned.understood)
            reply, told = self._mentoring.share(tx, seat, made, reply, content)
        else:
            told = ()
        here = change_channel.let_in(tx, number, planned.events, self.clock())
        moved = tuple(Elsewhere(other, planned.case, self._where(planned.case, "moved-here")) for other in here)
        staff = self._ticket(tx, mark, number, planned)
        room: tuple[Elsewhere, ...] = ()
        if self.relay is not None:
            before = held is not None and held.case.handed and not planned.new
            if any(isinstance(event, Handed) for event in planned.events):
                reply = self.relay.telling(planned.case, reply)
            room = self.relay.after(tx, number, mark, before, planned.case, planned.events, content)
        speaks = plain(reply)
        return Taken(
            planned.outcome, planned.case, reply if speaks else None, planned.understood, number,
            (*told, *moved, *room), staff,
        )  # fmt: skip

    def answered(self, taken: Taken) -> str:
        """What a message was understood to say, for the message that it answered."""
        if taken.case is None or not taken.understood:
            return ""
        texts = self._texts(taken.case.language)
        return listing(texts, [said(self.guide, texts, fact.reading) for fact in taken.understood])

    def aside(self, tx: "Transaction", mark: str, language: str) -> tuple[Case | None, Reply]:
        """What is said when a message was set aside: that, and the open question if it can still be found."""
        try:
            held = self.memory.current(tx, mark)
            if held is not None:
                return held.case, self._where(held.case, "set-aside")
        except Exception:  # whatever kept the message from being taken may keep its case from being read
            held = None
        texts = self._texts(language)
        return None, told_so(texts("set-aside"), "person")

    # --- what is going to happen --------------------------------------------------------------------------------

    def _plan(self, held: LoadedCase | None, content: Content | Message, language: str) -> _Planned:
        now = self.clock()
        if isinstance(content, Arrived):
            if held is not None and not content.new and held.case.handed:
                return _Planned(held.case, self._where(held.case, ""), ())
            if held is not None and not content.new and held.case.now.outcome in (None, "stopped"):
                return _planned(turn(self.guide, held.case, Message(choice="resume"), now))
            if held is not None and content.code == held.case.code:
                return _Planned(held.case, self._where(held.case, ""), ())
            return self._welcome(language, now)
        if held is None:
            return self._first(content, language, now)
        return self._next(held, content, now)

    def _first(self, content: Content | Message, language: str, now: datetime) -> _Planned:
        """Somebody without a case: what they said counts at once; whatever else it was, they are greeted."""
        if isinstance(content, Sent):  # the question that is shown with the thanks must have been put
            welcome = self._welcome(language, now)
            planned = self._continued(welcome.case, content, now)
            return replace(planned, new=True, reply=planned.reply.first(*welcome.reply.said))
        if isinstance(content, Message | Said | Edited | Commanded):
            spoken = content.language or language if isinstance(content, Message) else language
            return replace(self._continued(open_case(self.guide, self.fresh(), spoken, now), content, now), new=True)
        spoken = content.language if isinstance(content, Chose) else language
        return replace(self._welcome(spoken, now), outcome="stale" if isinstance(content, Pressed) else "applied")

    def _continued(self, begun: Case, content: Content | Message, now: datetime) -> _Planned:
        planned = self._next(LoadedCase(0, begun), content, now)
        return replace(planned, events=planned.case.events)

    def _welcome(self, language: str, now: datetime) -> _Planned:
        greeted = greet(self.guide, open_case(self.guide, self.fresh(), language, now), now)
        return _Planned(greeted.case, greeted.reply, greeted.case.events, new=True)

    def _next(self, held: LoadedCase, content: Content | Message, now: datetime) -> _Planned:
        case = held.case
        match content:
            case Message():
                return _planned(turn(self.guide, case, content, now))
            case Said():
                return _planned(turn(self.guide, case, Message(content.text), now))
            case Commanded():
                return _planned(turn(self.guide, case, Message(choice=content.command), now))
            case Pressed() if content.case == case.code and content.turn == turn_number(case):
                return _planned(turn(self.guide, case, Message(choice=content.choice), now))
            case Pressed():
                return _Planned(case, self._where(case, "stale-press"), (), outcome="stale")
            case Edited() if case.handed:
                return _planned(turn(self.guide, case, Message(content.text), now))
            case Edited():
                return self._correct(case, held.messages.get(content.of, ()), content.text, now)
            case Sent() if _further(held, content):
                return _planned(turn(self.guide, case, Message(content.note), now))
            case Sent():
                return self._sent(case, content, now)
            case Chose():
                known = content.language in self.guide.spoken and content.language != case.language
                events = (Spoke(now, content.language),) if known else ()
                return self._said(case, events, "")
            case _:
                raise AssertionError(f"no turn is taken on {content!r}")

    def _correct(self, case: Case, questions: Sequence[str], text: str, now: datetime) -> _Planned:
        """The answers of the message are withdrawn and its first question is open again when the new text is read."""
        in_force = {fact.reading.question for fact in case.now.facts}
        states = {state.question: state.id for state in self.guide.topic.flow.states if state.question}
        wrong = [question for question in questions if question in in_force and question in states]
        events: list[Event] = [Withdrew(now, question) for question in wrong]
        events += [Asked(now, question, states[question]) for question in wrong[:1]]
        for event in events:
            case = follow(case, event)
        planned = _planned(turn(self.guide, case, Message(text), now))
        return replace(planned, events=(*events, *planned.events))

    def _sent(self, case: Case, content: Sent, now: datetime) -> _Planned:
        """A photo is kept for the person who will look; all else only gets a word. Whoever has a person already is told
        nothing but what cannot be passed on."""
        remarked = Remarked(now, content.what)
        first = "sent-photo" if content.what == "photo" and content.files else _ANSWERED.get(content.what, "sent-other")
        if case.handed:
            first = "" if content.what == "photo" else _ANSWERED.get(content.what, "relay-cannot-pass")
        told = self._texts(case.language)(first) if first else ""
        if not content.note.strip():
            if case.handed:
                return _Planned(follow(case, remarked), told_so(told, "person"), (remarked,))
            return self._said(case, (remarked,), first)
        planned = _planned(turn(self.guide, follow(case, remarked), Message(content.note), now))
        reply = planned.reply.first(Remark(told, first)) if told else planned.reply
        return replace(planned, events=(remarked, *planned.events), reply=reply)

    def _handed_over(self, tx: "Transaction", mark: str, planned: _Planned) -> _Planned:
        """What is going to happen, and that a person of the shop has the case from then on, if that is so."""
        more = self.relay.hands_over(tx, mark, planned.case, planned.events) if self.relay is not None else ()
        return replace(planned, case=reduce(follow, more, planned.case), events=(*planned.events, *more))

    def _in_time(self, tx: "Transaction", held: LoadedCase | None, planned: _Planned) -> _Planned:
        """What is going to happen; a yes to somebody who does not wait for it any more becomes one that is too late."""
        if (
            held is None
            or not change_channel.says_yes(planned.events)
            or change_channel.waiting(tx, held.number, self.clock())
        ):
            return planned
        return self._said(held.case, change_channel.too_late(planned.events), "move-over")

    def _said(self, case: Case, events: tuple[Event, ...], first: str) -> _Planned:
        for event in events:
            case = follow(case, event)
        return _Planned(case, self._where(case, first), events)

    def _where(self, case: Case, first: str) -> Reply:
        """Where a case stands, after a `first` sentence; what it ended with is not told at length again."""
        reply, texts = look(self.guide, case, self.clock()), self._texts(case.language)
        ended = case.now.outcome not in (None, "stopped") and not case.handed
        if ended:
            reply = replace(reply, blocks=(afterwards(texts, case), *reply.of(Question, Offers)))
        return reply.without(Picture).first(*((Remark(texts(first), first),) if first else ()))

    def _texts(self, language: str) -> Texts:
        return self.guide.language(language).texts

    # --- what is written ----------------------------------------------------------------------------------------

    def _write(
        self,
        tx: "Transaction",
        mark: str,
        person: str,
        held: LoadedCase | None,
        planned: _Planned,
        beside: Mapping[str, Any],
    ) -> int:
        case, events = planned.case, planned.events
        if planned.new:
            held = LoadedCase(tx.open_case(person, case.code, case.topic, case.opened), case)
            tx.append(held.number, 0, rows_of(events, beside))
        else:
            assert held is not None
            tx.append(held.number, len(held.case.events), rows_of(events, beside))
        self.memory.keep(tx, mark, continued(held, case, events, beside))
        return held.number

    def _with_card(self, tx: "Transaction", number: int, held: LoadedCase | None, planned: _Planned) -> Reply:
        """The reply, with a link to the case's card where an outcome has just been reached and cards can be seen."""
        reached, before = planned.case.now.outcome, held.case.now.outcome if held is not None else None
        if self.guide.address is None or reached in (None, "stopped", before):
            return planned.reply
        from triagebot.cases.cards import LASTS, card_link  # late: it needs the database library

        url = card_link(tx, number, self.guide.address, self.clock())
        line = self._texts(planned.case.language)("card-offer", url=url, days=LASTS.days)
        return planned.reply.before_question(CardLink(line, url))

    def _ticket(self, tx: "Transaction", mark: str, number: int, planned: _Planned) -> "tuple[ToStaff, ...]":
        if not planned.events:
            return ()
        from triagebot.cases.tickets import after_turn  # late: it needs the database library

        return after_turn(tx, self.guide, mark, number, planned.case, planned.events, self.clock())

    def _chosen(self, tx: "Transaction", mark: str, content: Content | Message) -> LoadedCase | None:
        """The case that somebody goes back to by its code, if they take part in it."""
        if not isinstance(content, Arrived) or not content.code:
            return None
        stored = tx.case_by_code(content.code)
        if stored is None or mark not in tx.parties(stored.id):
            return None
        tx.join(stored.id, mark, "person")
        return unfolded(stored)

    def _named(
        self, tx: "Transaction", mark: str, person: str, held: LoadedCase | None, code: str, language: str
    ) -> Taken:
        """Somebody names the code of another case than theirs: one that they take part in is gone on with."""
        chosen = self._chosen(tx, mark, Arrived(code=code))
        if chosen is not None:
            return Taken("applied", chosen.case, self._where(chosen.case, ""), number=chosen.number)
        told = change_channel.ask(tx, self.guide, code, mark, person.partition(":")[0], self.clock())
        if held is not None:
            return Taken("applied", held.case, self._where(held.case, "move-asked"), number=held.number, elsewhere=told)
        reply = told_so(self._texts(language)("move-asked"))
        return Taken("applied", None, reply, elsewhere=told)

    def _forget(self, tx: "Transaction", mark: str, person: str, planned: _Planned) -> Taken:
        """Deletes everything; what is given back is the last that there was."""
        from triagebot.store.forgetting import own_cases, take_back_messages  # late: they need the database library

        told = self._mentoring.forgetting(tx, mark)
        own = own_cases(tx, mark)
        others = take_back_messages(tx, mark, own)
        room = self.relay.forgotten(tx, own) if self.relay is not None else ()
        tx.forget(person)
        for each in (mark, *others):
            self.memory.drop(tx, each)
        reply = replace(planned.reply, status="stopped", result=Result(), candidates=())
        return Taken("forgotten", planned.case, reply, elsewhere=(*told, *room))


def _by(planned: _Planned, who: str) -> _Planned:
    """The same, with who gave the answers in it."""
    events = labelled(planned.events, who)
    before = planned.case.events[: len(planned.case.events) - len(events)]
    return replace(planned, events=events, case=replace(planned.case, events=(*before, *events)))


def _planned(taken: Turn) -> _Planned:
    return _Planned(taken.case, taken.reply, taken.events, taken.understood)


def _beside(content: Content | Message, key: str | None) -> dict[str, Any]:
    """What is kept with the events of a message."""
    beside: dict[str, Any] = {} if key is None else {"message": key}
    if isinstance(content, Pressed):
        beside["press"] = _press(content)
    if isinstance(content, Sent) and content.album:
        beside["album"] = content.album
    return beside


def _further(held: LoadedCase, content: Content | Message) -> bool:
    """Whether this is another part of an album that was answered already."""
    return isinstance(content, Sent) and content.album in held.albums


def _press(press: Pressed) -> str:
    return f"{press.turn}:{press.choice}"


def _again(held: LoadedCase, press: Pressed) -> bool:
    """Whether this press was taken already. One that changes nothing, as "how do I check?", may be meant again once
    something else has been said."""
    if press.case != held.case.code or _press(press) not in held.presses:
        return False
    return press.turn != turn_number(held.case) or held.last_press == _press(press)
