"""A case: the fold of its append-only events. Undo, change, replay and explanation all come from the events alone.

Rules of this file:
- `Standing` is all that undo gives back; every answer, withdrawal or restart first puts the standing before it aside;
- a conversation stands in states of the machine, one upon another, and in no flags beside them: `_RANK` says which
  waits beneath which, `_ENDS` which states an event puts an end to, `_place` to which it leads;
- an outcome stands until something is asked anew; a question `beside` it (what else is needed) leaves it standing;
- what staff close a case with is no part of the standing: undo does not take it back; nor is whether a person of the
  shop has it, who keeps the bot quiet until somebody gives it back, closes the case or begins anew;
- folding is total: any sequence that begins with `Opened` gives a case.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal, cast

from triagebot.conversation.events import (
    Adopted,
    Answered,
    Asked,
    Closed,
    Concluded,
    Event,
    Handed,
    Insisted,
    LeftSteps,
    Listed,
    Opened,
    Outcome,
    Puzzled,
    Reason,
    Remarked,
    Restarted,
    Returned,
    Spoke,
    Stepped,
    Undid,
    Withdrew,
)
from triagebot.conversation.machine import CHOOSING, CONFIRMING, HANDED
from triagebot.conversation.understood import Fact, Puzzle
from triagebot.identify import BoundReading, ChoiceReading, Reading

__all__ = [
    "HELPING",
    "Adopted",
    "Answered",
    "Asked",
    "Case",
    "Closed",
    "Concluded",
    "Event",
    "Handed",
    "Insisted",
    "Kind",
    "Listed",
    "Opened",
    "Outcome",
    "Place",
    "Puzzled",
    "Reason",
    "Remarked",
    "Restarted",
    "Returned",
    "Spoke",
    "Standing",
    "Undid",
    "Withdrew",
    "fold_events",
    "follow",
]  # fmt: skip


#: What the second event of a case says that a mentor opens for a rider.
HELPING = "helping"

# --- where a conversation stands ----------------------------------------------------------------------------------

Kind = Literal["begun", "ended", "guided", "asking", "stopped", "asking-back", "handed", "choosing", "confirming"]
#: The kinds of states, from the bottom up: what stands further on waits beneath for what stands further down here.
_RANK: tuple[Kind, ...] = (
    "begun", "ended", "guided", "asking", "stopped", "asking-back", "handed", "choosing", "confirming"
)  # fmt: skip
#: What is noted of a message that asked something and was answered.
ASKED = "asked"
#: What belongs to this very moment, so that undo does not give it back.
_PASSING = frozenset[Kind]({"handed", "choosing", "confirming"})
#: What an event puts an end to, by kind; an event that is not listed puts an end to nothing.
_ENDS: Mapping[type, frozenset[Kind]] = {
    Asked: frozenset({"ended", "guided", "asking", "stopped", "asking-back", "choosing"}),
    Answered: frozenset({"asking-back", "choosing", "confirming"}),
    Puzzled: frozenset({"asking-back", "choosing", "confirming"}),
    Listed: frozenset({"choosing", "confirming"}),
    Withdrew: frozenset({"ended", "guided", "stopped", "asking-back", "choosing", "confirming"}),
    Concluded: frozenset({"ended", "guided", "asking", "stopped", "asking-back", "choosing", "confirming"}),
    Stepped: frozenset({"guided", "asking", "choosing", "confirming"}),
    LeftSteps: frozenset({"guided", "choosing", "confirming"}),
    Remarked: frozenset({"choosing", "confirming"}),
    Spoke: frozenset({"confirming"}),
    Closed: frozenset({"handed"}),
    Returned: frozenset({"handed", "confirming"}),
    Restarted: frozenset(_RANK),
}


@dataclass(frozen=True, slots=True)
class Place:
    """A state of the machine, by its id, with what makes it this conversation's own: the question that is asked, the
    outcome that was reached, or what is to be confirmed (`what`); `again`, `doubted` and `first` as in `Asked`; why a
    person must look; what is asked back; at a step (`procedure/step`), what was `tried` there."""

    id: str
    kind: Kind
    what: str = ""
    again: bool = False
    doubted: bool = False
    first: str = ""
    reason: Reason = ""
    puzzle: Puzzle | None = None
    tried: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a conversation stands: what undo gives back. `places` are states of the machine: in the last one it is, and
    beneath wait those to which it returns. `asked` lists questions put, in order, with repeats."""

    places: tuple[Place, ...]
    facts: tuple[Fact, ...] = ()
    asked: tuple[str, ...] = ()
    mentioned: frozenset[str] = frozenset()
    settled: frozenset[str] = frozenset()

    def at(self, *kinds: Kind) -> Place | None:
        """The uppermost state of one of these kinds, if there is one."""
        return next((place for place in reversed(self.places) if place.kind in kinds), None)

    def without(self, kinds: Iterable[Kind]) -> "Standing":
        return replace(self, places=tuple(place for place in self.places if place.kind not in kinds))

    def within(self, place: Place) -> "Standing":
        """The same with this state among the others, at its own height."""
        return replace(self, places=tuple(sorted((*self.places, place), key=lambda each: _RANK.index(each.kind))))

    @property
    def state(self) -> str:
        return self.places[-1].id

    @property
    def question(self) -> str | None:
        """The question that is open."""
        return self._asking.what or None

    @property
    def again(self) -> bool:
        return self._asking.again

    @property
    def doubted(self) -> bool:
        return self._asking.doubted

    @property
    def first(self) -> str:
        """The ability question for which the open one stands too."""
        return self._asking.first

    @property
    def _asking(self) -> Place:
        return self.at("asking") or Place("", "asking")

    @property
    def puzzle(self) -> Puzzle | None:
        """What is asked back."""
        asking_back = self.at("asking-back")
        return asking_back.puzzle if asking_back is not None else None

    @property
    def picking(self) -> bool:
        """Whether an answer is being picked that is to change."""
        return self.at("choosing") is not None

    @property
    def confirming(self) -> str:
        """What was asked about the conversation itself: "forget", "language", "move" or ""."""
        confirming = self.at("confirming")
        return confirming.what if confirming is not None else ""

    @property
    def outcome(self) -> Outcome | None:
        ended = self.at("ended", "stopped")
        return cast(Outcome, ended.what) if ended is not None else None

    @property
    def reason(self) -> Reason:
        ended = self.at("ended", "stopped")
        return ended.reason if ended is not None else ""

    @property
    def readings(self) -> tuple[Reading, ...]:
        return tuple(fact.reading for fact in self.facts)

    @property
    def asks(self) -> Mapping[str, int]:
        return Counter(self.asked)


@dataclass(frozen=True, slots=True)
class Case:
    """One run of one person through a topic. `missed` counts messages in a row that gave nothing, `remarks` those that
    changed nothing; `closed` is what it really was, as staff say: a restart, maybe of another wheel, leaves it open."""

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
    remarks: int = 0
    closed: Closed | None = None

    @property
    def handed(self) -> bool:
        """Whether a person of the shop has it."""
        return self.now.at("handed") is not None

    @property
    def asked_in_between(self) -> bool:
        """Whether the last message asked something that was answered, and told nothing."""
        last = self.events[-1]
        return isinstance(last, Remarked) and last.what == ASKED

    @property
    def for_a_rider(self) -> bool:
        """Whether a mentor opened it for a rider elsewhere, which its second event says."""
        second = self.events[1] if len(self.events) > 1 else None
        return isinstance(second, Remarked) and second.what == HELPING


def fold_events(events: Iterable[Event]) -> Case:
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
            now=Standing((Place(event.start, "begun"),)),
        )
    if case is None:
        raise ValueError("a case begins with an Opened event")
    if isinstance(event, Closed):
        return replace(case, closed=event, now=_stand(case.now, event))
    case = replace(case, touched=event.at)
    if isinstance(event, Handed | Returned):
        return replace(case, now=_stand(case.now, event))
    missed = case.missed + 1 if isinstance(event, Remarked) and event.what == "not-understood" else 0
    case = replace(case, missed=missed, remarks=case.remarks + 1 if isinstance(event, Remarked) else 0)
    if isinstance(event, Undid):
        return replace(case, now=_back(case), past=case.past[:-1])
    if isinstance(event, Spoke):
        case = replace(case, language=event.language)
    if isinstance(event, Adopted):
        return replace(case, digest=event.digest, now=_adopt(case.now, event), past=())
    if isinstance(event, Answered | Withdrew | Restarted):
        case = replace(case, past=(*case.past, case.now.without(_PASSING)))
    if isinstance(event, Restarted):
        case = replace(case, closed=None)
    return replace(case, now=_stand(case.now, event))


def _back(case: Case) -> Standing:
    """The standing before the last answer; a person of the shop who has the case keeps it."""
    before = case.past[-1] if case.past else case.now
    handed = case.now.at("handed")
    return before.within(handed) if handed is not None and before.at("handed") is None else before


def _adopt(now: Standing, event: Adopted) -> Standing:
    """The standing under a changed topic: what was asked back goes, and so does an outcome unless it is a stop. What
    was open beside an outcome counts as touched on and not asked yet, so it is asked again with the new outcome."""
    asking, handed = now.at("asking"), now.at("handed")
    begun = now.places[0] if event.question is not None else Place(event.state, "begun")
    places = [begun]
    if event.question is not None:
        again = asking if asking is not None and asking.what == event.question else Place("", "asking")
        places.append(replace(again, id=event.state, what=event.question))
        places += [place for place in now.places if place.kind == "stopped"]
    beside = asking.what if asking is not None and now.at("ended") is not None and event.question is None else None
    asked = list(now.asked)
    if beside in asked:
        asked.reverse()
        asked.remove(beside)
        asked.reverse()
    return Standing(
        (*places, handed) if handed is not None else tuple(places),
        facts=tuple(fact for fact in now.facts if fact.reading.question not in event.lost),
        asked=tuple(question for question in asked if question not in event.lost),
        mentioned=now.mentioned if beside is None else now.mentioned | {beside},
        settled=now.settled.difference(event.lost),
    )


def _stand(now: Standing, event: Event) -> Standing:
    """The standing after an event: what the event puts an end to goes, and the state that it leads to comes."""
    ends = _ENDS.get(type(event), frozenset())
    match event:
        case Asked(beside=True):
            ends -= {"ended", "guided"}
        case Concluded(outcome="answer"):  # the work goes on where the tool is the same
            ends -= {"guided"}
        case Concluded(outcome="stopped"):  # what was asked is taken up again where it stood
            ends -= {"asking"}
        case Answered():
            now = replace(now, facts=_merge(now, event.facts), mentioned=now.mentioned.union(event.mentions))
        case Withdrew():
            facts = tuple(fact for fact in now.facts if fact.reading.question != event.question)
            asked = tuple(each for each in now.asked if each != event.question)
            now = replace(now, facts=facts, asked=asked, settled=now.settled - {event.question})
        case Insisted():
            now = replace(now, settled=now.settled | {event.question})
        case Restarted():
            return Standing((Place(event.state, "begun"),))
    if isinstance(event, Asked):
        now = replace(now, asked=(*now.asked, *event.put))
    left, place = now.without(ends), _place(event, now)
    return left if place is None or (place.kind == "handed" and left.at("handed")) else left.within(place)


def _place(event: Event, now: Standing) -> Place | None:
    """The state to which an event leads."""
    match event:
        case Stepped():
            what, before = f"{event.procedure}/{event.step}", now.at("guided")
            tried = before.tried if before is not None and before.what == what else ()
            return Place(event.state, "guided", what, tried=(*tried, event.helped) if event.helped else tried)
        case Asked():
            return Place(event.state, "asking", event.question, event.again, event.doubted, event.first)
        case Puzzled():
            return Place(event.state, "asking-back", puzzle=event.puzzle)
        case Concluded():
            kind: Kind = "stopped" if event.outcome == "stopped" else "ended"
            return Place(event.state, kind, event.outcome, reason=event.reason)
        case Listed():
            return Place(CHOOSING, "choosing")
        case Remarked(what=what) if what in CONFIRMING:
            return Place(CONFIRMING[what], "confirming", what)
        case Handed():
            return Place(HANDED, "handed")
        case _:
            return None


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
                same = [f for f in facts if f.reading.question == question]
                facts = (*(f for f in facts if f not in same), *same) if len(same) == 1 else facts
                continue
            if not _adds_up(fact.reading):
                facts = tuple(f for f in facts if f.reading.question != question or _adds_up(f.reading))
        facts = (*facts, fact)
    return facts


def _adds_up(reading: Reading) -> bool:
    return isinstance(reading, BoundReading) or (isinstance(reading, ChoiceReading) and reading.denied)
