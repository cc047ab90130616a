"""A case: the fold of its append-only events. Undo, change, replay and explanation all come from the events alone.

Rules of this file:
- an event says what happened, with everything needed to fold it; it never holds a belief or a wording;
- `Standing` is all that undo gives back; every answer, withdrawal or restart first puts the standing before it aside;
- an outcome stands until something is asked anew; a question `beside` it (what else is needed) leaves it standing;
- what staff close a case with is no part of the standing: undo does not take it back; nor is whether a person of the
  shop has it, who keeps the bot quiet until somebody gives it back, closes the case or begins anew;
- folding is total: any sequence that begins with `Opened` gives a case.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from triagebot.conversation.understood import Fact, Puzzle
from triagebot.identify import BoundReading, ChoiceReading, Reading

Outcome = Literal["answer", "look-alike", "person", "stopped"]
#: Why a person must look.
Reason = Literal["", "asked", "doubt", "unlisted", "no-remover", "referral"]


@dataclass(frozen=True, slots=True)
class Opened:
    """A case begins: its code, the topic and the digest of the topic's files that it was opened with."""

    at: datetime
    code: str
    topic: str
    digest: str
    language: str
    start: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question was put. `again`: it had been answered before; `doubted`: that answer does not fit the others.

    `still`: it was open already and not answered yet, so it counts once; `beside`: the outcome reached stays.
    """

    at: datetime
    question: str
    state: str
    again: bool = False
    doubted: bool = False
    still: bool = False
    beside: bool = False


@dataclass(frozen=True, slots=True)
class Answered:
    """A message that gave readings, or touched on questions; `text` is what was written, `by` who wrote it."""

    at: datetime
    facts: tuple[Fact, ...]
    mentions: tuple[str, ...] = ()
    text: str = ""
    by: str = "person"


@dataclass(frozen=True, slots=True)
class Puzzled:
    """Something that was said is asked back before it counts."""

    at: datetime
    puzzle: Puzzle
    state: str


@dataclass(frozen=True, slots=True)
class Listed:
    """The person wants to change an answer and was shown which there are."""

    at: datetime


@dataclass(frozen=True, slots=True)
class Withdrew:
    """The person takes back what was said about a question."""

    at: datetime
    question: str


@dataclass(frozen=True, slots=True)
class Undid:
    """One answer back."""

    at: datetime


@dataclass(frozen=True, slots=True)
class Concluded:
    """The conversation reached an outcome; `reason` says why a person must look, `named` the fastenings whose removers
    were named."""

    at: datetime
    outcome: Outcome
    state: str
    reason: Reason = ""
    named: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Restarted:
    """From the beginning; the events before stay."""

    at: datetime
    state: str


@dataclass(frozen=True, slots=True)
class Adopted:
    """The topic had changed since: answers to questions or choices that are gone were dropped (`lost`).

    `question` is the one that stays open, in `state`; None where what was open or reached has to be found anew.
    """

    at: datetime
    digest: str
    lost: tuple[str, ...]
    question: str | None
    state: str


@dataclass(frozen=True, slots=True)
class Remarked:
    """A message that changed nothing: a command, small talk, or something that was not understood."""

    at: datetime
    what: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Spoke:
    """The person chose another language."""

    at: datetime
    language: str


@dataclass(frozen=True, slots=True)
class Closed:
    """A member of staff says what it really was: the fastening's id (None: not known, or not listed by that name), and
    whether the remover that was named fitted (None: not tried). `by` is the member's name. Said again, it replaces
    what was said before; it changes nothing of the conversation, which may go on."""

    at: datetime
    fastening: str | None
    fitted: bool | None
    by: str


@dataclass(frozen=True, slots=True)
class Handed:
    """A person of the shop has the conversation from now on, and the bot keeps quiet."""

    at: datetime


@dataclass(frozen=True, slots=True)
class Returned:
    """The bot has it again; `by` is the name of the member who gave it back, "person" for whose case it is, or "bot"
    where they never heard that a person had it."""

    at: datetime
    by: str = "person"


Event = (
    Opened
    | Asked
    | Answered
    | Puzzled
    | Listed
    | Withdrew
    | Undid
    | Concluded
    | Restarted
    | Adopted
    | Remarked
    | Spoke
    | Closed
    | Handed
    | Returned
)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a conversation stands: what undo gives back. `asked` lists questions put, in order, with repeats."""

    state: str
    facts: tuple[Fact, ...] = ()
    asked: tuple[str, ...] = ()
    question: str | None = None
    again: bool = False
    doubted: bool = False
    mentioned: frozenset[str] = frozenset()
    puzzle: Puzzle | None = None
    picking: bool = False
    outcome: Outcome | None = None
    reason: Reason = ""

    @property
    def readings(self) -> tuple[Reading, ...]:
        return tuple(fact.reading for fact in self.facts)

    @property
    def asks(self) -> Mapping[str, int]:
        return Counter(self.asked)


@dataclass(frozen=True, slots=True)
class Case:
    """One run of one person through a topic. `missed` counts messages in a row that gave nothing; `closed` is what it
    really was, once staff have said so: a restart, which may be about another wheel, leaves that open again. `handed`:
    a person of the shop has it."""

    events: tuple[Event, ...]
    code: str
    topic: str
    digest: str
    language: str
    opened: datetime
    touched: datetime
    now: Standing
    past: tuple[Standing, ...] = ()
    missed: int = 0
    closed: Closed | None = None
    handed: bool = False


def fold(events: Iterable[Event]) -> Case:
    """The case that these events make. Raises ValueError when they do not begin with `Opened`."""
    whole = tuple(events)
    case: Case | None = None
    for event in whole:
        case = _after(case, event)
    if case is None:
        raise ValueError("a case begins with an Opened event")
    return replace(case, events=whole)


def follow(case: Case | None, event: Event) -> Case:
    """The case after one more event. Raises ValueError when the first is not `Opened`."""
    before = () if case is None else case.events
    return replace(_after(case, event), events=(*before, event))


def _after(case: Case | None, event: Event) -> Case:
    """All but the events, which to copy each time would make folding quadratic."""
    if isinstance(event, Opened):
        return Case(
            events=(),
            code=event.code,
            topic=event.topic,
            digest=event.digest,
            language=event.language,
            opened=event.at,
            touched=event.at,
            now=Standing(event.start),
        )
    if case is None:
        raise ValueError("a case begins with an Opened event")
    if isinstance(event, Closed):
        return replace(case, closed=event, handed=False)
    if isinstance(event, Handed | Returned):
        return replace(case, touched=event.at, handed=isinstance(event, Handed))
    case = replace(case, touched=event.at)
    if isinstance(event, Remarked):
        missed = case.missed + 1 if event.what == "not-understood" else 0
        return replace(case, missed=missed, now=replace(case.now, picking=False))
    case = replace(case, missed=0)
    if isinstance(event, Undid):
        return replace(case, now=case.past[-1], past=case.past[:-1]) if case.past else case
    if isinstance(event, Spoke):
        return replace(case, language=event.language)
    if isinstance(event, Adopted):
        return replace(case, digest=event.digest, now=_adopt(case.now, event), past=())
    if isinstance(event, Restarted):
        case = replace(case, closed=None, handed=False)
    if isinstance(event, Answered | Withdrew | Restarted):
        case = replace(case, past=(*case.past, replace(case.now, picking=False)))
    return replace(case, now=_stand(case.now, event))


def _adopt(now: Standing, event: Adopted) -> Standing:
    """The standing under a changed topic: what was asked back goes, and so does an outcome unless it is a stop."""
    kept = now.question is not None and now.question == event.question
    return Standing(
        event.state,
        facts=tuple(fact for fact in now.facts if fact.reading.question not in event.lost),
        asked=tuple(question for question in now.asked if question not in event.lost),
        question=event.question,
        again=now.again and kept,
        doubted=now.doubted and kept,
        mentioned=now.mentioned,
        outcome="stopped" if now.outcome == "stopped" and event.question is not None else None,
    )


def _stand(now: Standing, event: Event) -> Standing:
    match event:
        case Asked():
            return replace(
                now,
                state=event.state,
                question=event.question,
                again=event.again,
                doubted=event.doubted,
                asked=now.asked if event.still else (*now.asked, event.question),
                puzzle=None,
                picking=False,
                outcome=now.outcome if event.beside else None,
                reason=now.reason if event.beside else "",
            )
        case Answered():
            return replace(
                now,
                facts=_merge(now, event.facts),
                mentioned=now.mentioned.union(event.mentions),
                puzzle=None,
                picking=False,
            )
        case Withdrew():
            kept = tuple(fact for fact in now.facts if fact.reading.question != event.question)
            asked = tuple(question for question in now.asked if question != event.question)
            return replace(now, facts=kept, asked=asked, outcome=None, reason="", puzzle=None, picking=False)
        case Puzzled():
            return replace(now, state=event.state, puzzle=event.puzzle, picking=False)
        case Listed():
            return replace(now, picking=True)
        case Concluded():
            return replace(
                now,
                state=event.state,
                outcome=event.outcome,
                reason=event.reason,
                question=now.question if event.outcome == "stopped" else None,
                puzzle=None,
                picking=False,
            )
        case Restarted():
            return Standing(event.state)
        case _:
            return now


def _merge(now: Standing, news: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """Add facts: what was said again unasked is no news; another value unasked, or a correction, replaces the old one;
    an answer to a question that was put again stands beside the first; bounds and denials add up."""
    facts = now.facts
    for fact in news:
        question = fact.reading.question
        if fact.corrects:
            facts = tuple(f for f in facts if f.reading.question != question)
        elif not (now.again and question == now.question):
            if any(f.reading == fact.reading for f in facts):
                continue
            if not _adds_up(fact.reading):
                facts = tuple(f for f in facts if f.reading.question != question or _adds_up(f.reading))
        facts = (*facts, fact)
    return facts


def _adds_up(reading: Reading) -> bool:
    return isinstance(reading, BoundReading) or (isinstance(reading, ChoiceReading) and reading.denied)
