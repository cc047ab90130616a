"""What to do next in a case: ask which question, or stop with which outcome. No wording.

Decided here and nowhere else:
- which questions this person can be asked now: the machine's `ask` transitions whose guards hold, asked not too often;
- a question whose only hindrance is an ability ("is the wheel out?") counts with both prices, and carries what to do
  first; who could not do it is asked about the ability (`machine`);
- obstacles (what blocks or clamps the tool) are followed up once, after the remover has been named;
- what is hard to see (`hidden`) is not asked while a look at the fitting itself or the motion test is worth asking;
- a tool to try by hand is asked for last, or first of who has spoken of having it, if it tells anything;
- what somebody has told is not asked again while anything else is worth asking, unless it does not fit the rest;
- who said the same twice is not asked it again; who did not know is asked the same once more at most, and not at all
  for want of a tool;
- what must be seen (again) before a remover is named is asked first (`second_look`); where that cannot be, and counts
  speak against what would be named, a person looks;
- who does not know the answers to `patience` questions in a row is asked no further;
- a question that could send the person to the shop is asked before a remover is named, once it was touched on;
- some answers send a person to the shop whatever else is known (referrals).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from triagebot.conversation.machine import (
    View,
    askable,
    enabler,
    holds,
    standing_choices,
)
from triagebot.conversation.second_look import (
    contradicted,
    counted_otherwise,
    doubtful,
    due_anyway,
    measured_as_named,
    mistaken_for,
    motion_unseen,
    not_told_apart,
    question_before_naming,
    turned_either_way,
)
from triagebot.identify import (
    Candidate,
    Decision,
    Model,
    Reading,
    UnsureReading,
    belief,
    odd_one_out,
    plan,
)
from triagebot.identify.information import Array
from triagebot.identify.planner import Plan
from triagebot.topics import Question, Referral, Topic, remedy_of

#: How many of those who speak of a tool have it not at hand after all (a judgement).
_WITHIN_REACH = 0.2
#: Who offers to try a tool is asked to from this worth on, in doubt settled for each effort.
_TAKEN = 0.1
#: How many questions somebody must have answered before their own share of "I don't know" counts for half.
_PATIENCE = 4


@dataclass(frozen=True, slots=True)
class NextStep:
    """The next step. `question` None means: stop with `decision`. `again`: it was answered before; `doubted`: since
    its answer does not fit the others. `referral`: the answer that sends the person to the shop. `unseen`: what is
    named rests on a motion that nobody has seen; `alike`: nothing told speaks against its look-alike, or as
    many counts speak against it as for it. `first`: what the
    person must do before they can look, which is told along with the question."""

    question: str | None
    decision: Decision
    shares: Array
    again: bool = False
    doubted: bool = False
    referral: Referral | None = None
    unseen: bool = False
    alike: bool = False
    mistaken: str | None = None
    first: str | None = None


def next_step(
    topic: Topic,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str] = frozenset(),
    barred: frozenset[str] = frozenset(),
) -> NextStep:
    """Decide the next step from the readings in force, how often each question was asked, and what was touched on.

    `barred` questions are never asked (a shop without a table of makers' words bars `marking`). What was told of a
    question that the topic no longer has says nothing.
    """
    readings = tuple(reading for reading in readings if reading.question in topic.questions)
    latest = standing_choices(topic, readings)
    referral = next((r for r in topic.flow.referrals if latest.get(r.question) == r.choice), None)
    view = View(latest, likeliest_traits(topic, belief(topic.model, readings)), mentioned)
    candidates, enablers = _candidates(topic, view, readings, asked, barred)
    odd = _odd(topic, readings)
    worth = _plan(topic, readings, candidates, odd, mentioned)
    if referral is not None:
        return NextStep(None, worth.decision, worth.shares, referral=referral)
    limits, decision = topic.flow.outcomes, worth.decision
    if sum(asked.values()) >= limits.most_questions or _unsure_in_a_row(topic, readings) >= limits.patience:
        return _stopping(topic, _borne_out(topic, decision, readings), worth.shares, readings)
    question = _in_fixed_order(topic, candidates, readings) if topic.flow.order == "fixed" else worth.question
    if question is None:
        able = [candidate.question for candidate in candidates]
        question = question_before_naming(topic, decision, worth.shares, readings, odd, able)
    if question is None:
        decision = _borne_out(topic, decision, readings)
    if question is None and decision.kind != "person":
        question = _must_know(topic, decision, readings, asked, mentioned, barred)
    if question is not None:
        first = enablers.get(question)
        if first is not None and asked.get(first):
            return _asking(topic, first, worth, readings)
        return replace(_asking(topic, question, worth, readings), first=first)
    return _stopping(topic, decision, worth.shares, readings)


def _odd(topic: Topic, readings: Sequence[Reading]) -> str | None:
    """The question whose answer fits the others badly; None where none does."""
    return doubtful(topic, readings) if odd_one_out(topic.model, readings) is not None else None


def weighed(
    topic: Topic,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str] = frozenset(),
    barred: frozenset[str] = frozenset(),
) -> Plan:
    """What each question that may be asked now would save, all of them side by side. `next_step` looks at those that
    are hard to see only where no other pays."""
    readings = tuple(reading for reading in readings if reading.question in topic.questions)
    view = View(standing_choices(topic, readings), likeliest_traits(topic, belief(topic.model, readings)), mentioned)
    return plan(topic.model, readings, _candidates(topic, view, readings, asked, barred)[0])


def _stopping(topic: Topic, decision: Decision, shares: Array, readings: Sequence[Reading]) -> NextStep:
    unseen = motion_unseen(topic, decision, shares, readings) is not None
    alike = not_told_apart(topic, decision, shares) or counted_otherwise(topic, decision, readings)
    return NextStep(None, decision, shares, unseen=unseen, alike=alike)


def _plan(
    topic: Topic,
    readings: Sequence[Reading],
    candidates: Sequence[Candidate],
    odd: str | None,
    mentioned: frozenset[str],
) -> Plan:
    """Plan on what is not told yet and needs no tool but one that was spoken of; then on everything, tools to try and
    what was told among it."""
    told = {r.question for r in readings} - {odd}
    out_of_reach = {q.id for q in topic.flow.questions if q.needs_tool} - mentioned
    fresh = [c for c in candidates if c.question not in told | out_of_reach]
    easy = [c for c in fresh if not topic.questions[c.question].hidden]
    worth = plan(topic.model, readings, fresh)
    offered = {c.question for c in fresh if topic.questions[c.question].needs_tool}
    taken = next((w.question for w in worth.worth if w.question in offered and w.an_effort >= _TAKEN), None)
    if taken is not None:
        return replace(worth, question=taken)
    if worth.question is None or topic.questions[worth.question].hidden:
        plainly = plan(topic.model, readings, easy)
        able, askable_easily = [c.question for c in candidates], [c.question for c in easy]
        due = due_anyway(topic, worth.decision, worth.shares, readings, askable_easily)
        either_way = turned_either_way(topic, worth.decision, readings) if worth.question is not None else None
        if plainly.question in _seen_first(topic):
            worth = plainly
        elif due is not None or either_way in able:
            worth = replace(worth, question=due or either_way)
    if worth.question is not None:
        return worth
    settled = measured_as_named(topic, worth.decision, readings)
    return plan(topic.model, readings, [c for c in candidates if c.question not in settled])


def _seen_first(topic: Topic) -> tuple[str, ...]:
    """The questions that come before what is hard to see: those about the fitting itself, and the motion test."""
    rule = topic.flow.outcomes.motion
    return (*topic.flow.outcomes.sights, *((rule.question,) if rule is not None else ()))


def _borne_out(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> Decision:
    """The decision, or a person where counts speak against what it names."""
    if contradicted(topic, decision, readings):
        return Decision("person", (), decision.loss)
    return decision


def _asking(topic: Topic, question: str, worth: Plan, readings: Sequence[Reading]) -> NextStep:
    able = topic.questions[question].purpose == "ability"
    again = not able and any(r.question == question for r in readings)
    doubted = again and _odd(topic, readings) == question
    looked_at = mistaken_for(topic, worth.shares) if again and question in topic.flow.outcomes.sights else None
    return NextStep(question, worth.decision, worth.shares, again=again, doubted=doubted, mistaken=looked_at)


def _unsure_in_a_row(topic: Topic, readings: Sequence[Reading]) -> int:
    """How many questions in a row, up to the last one, this person did not know the answer to."""
    unknown: set[str] = set()
    for reading in reversed(readings):
        if not isinstance(reading, UnsureReading):
            break
        if not topic.questions[reading.question].needs_tool:
            unknown.add(reading.question)
    return len(unknown)


def ranked(model: Model, shares: Array) -> tuple[str, ...]:
    """The fastenings by id, likeliest first; among equals in the order of the topic."""
    order = sorted(range(len(model.fastenings)), key=lambda place: -shares[place])
    return tuple(model.fastenings[place] for place in order)


def plausible(model: Model, shares: Array) -> tuple[str, ...]:
    """Those that keep the flow's `plausible` or more, likeliest first."""
    kept = sum(share >= model.plausible for share in shares)
    return ranked(model, shares)[:kept]


def leading_traits(topic: Topic, decision: Decision) -> frozenset[str]:
    """Traits of the removers that the decision names."""
    named = [topic.model.remedies[place].remover for place in decision.remedies]
    return frozenset(trait for remover in named if remover for trait in topic.removers[remover].traits)


def likeliest_traits(topic: Topic, shares: Array) -> frozenset[str]:
    """Traits of the remover that the likeliest fastening needs, by the shares of the fastenings."""
    remover = topic.fastenings[topic.model.fastenings[int(shares.argmax())]].remover
    return frozenset(topic.removers[remover].traits) if remover else frozenset()


def _candidates(
    topic: Topic, view: View, readings: Sequence[Reading], asked: Mapping[str, int], barred: frozenset[str]
) -> tuple[list[Candidate], dict[str, str]]:
    candidates: list[Candidate] = []
    enablers: dict[str, str] = {}
    again = topic.flow.losses.again
    unknown = {r.question: isinstance(r, UnsureReading) for r in readings if not topic.questions[r.question].needs_tool}
    own = sum(unknown.values()) / (len(unknown) + _PATIENCE)
    told: dict[str, list[Reading]] = {}
    for reading in readings:
        told.setdefault(reading.question, []).append(reading)
    for question, guards in askable(topic):
        if question.purpose != "identify" or question.id in barred:
            continue
        before = told.get(question.id, [])
        asks = max(asked.get(question.id, 0), len(before))
        if asks >= _most_asks(question, before):
            continue
        price = question.price * (again if asks else 1)
        failing = [guard for guard in guards if not holds(guard, view)]
        if failing:
            first = enabler(topic, failing, view, asked, barred)
            if first is None:
                continue
            enablers[question.id] = first.id
            price += first.price
        within_reach = question.needs_tool and question.id in view.mentioned
        unsure = _WITHIN_REACH if within_reach else _unsure(topic, question, own, unknown.get(question.id, False))
        candidates.append(Candidate(question.id, price, unsure))
    return candidates, enablers


def _most_asks(question: Question, told: Sequence[Reading]) -> int:
    """How often a question may be asked, of which this was told: not of who said the same twice; of who did not know
    once more at most, and not for want of a tool."""
    if not told:
        return question.asks
    if any(one == other for one, other in pairwise(told)):
        return 0
    unknown = any(isinstance(r, UnsureReading) for r in told)
    return min(question.asks, 1 if question.needs_tool else 2) if unknown else question.asks


def _unsure(topic: Topic, question: Question, own: float, before: bool) -> float:
    """P(this person will not know): the question's own rate, or the person's `own` where that is higher; and who was
    not sure about it `before` says so again with the chance that answers repeat."""
    rate = max(question.unsure, own)
    repeat = topic.flow.noise.repeat
    return repeat + (1 - repeat) * rate if before else rate


def _in_fixed_order(topic: Topic, candidates: list[Candidate], readings: Sequence[Reading]) -> str | None:
    answered = {r.question for r in readings}
    return next((c.question for c in candidates if c.question not in answered), None)


def _must_know(
    topic: Topic,
    decision: Decision,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str],
    barred: frozenset[str],
) -> str | None:
    """A question that was touched on and not answered, and whose answer could be a referral."""
    open_ones = _open_obstacles(topic, decision, readings, asked, mentioned, barred)
    referring = {referral.question for referral in topic.flow.referrals}
    return next((question for question in open_ones if question in referring and question in mentioned), None)


def follow_up(
    topic: Topic,
    decision: Decision,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str] = frozenset(),
    barred: frozenset[str] = frozenset(),
    *,
    touched: bool = False,
) -> str | None:
    """The question to add once a remover was named: of two look-alikes the try by hand; else an obstacle whose guards
    hold, not asked or known yet, and only what was `touched` on, where that is wanted."""
    if decision.kind == "person":
        return None
    if decision.kind == "look-alike":
        view = View(standing_choices(topic, readings), leading_traits(topic, decision), mentioned)
        by_hand = try_by_hand(topic, decision)
        open_now = (q.id for q, guards in askable(topic) if all(holds(guard, view) for guard in guards))
        often = 2 if by_hand in mentioned else 1  # once more to who speaks of having the tool after all
        if by_hand is not None and by_hand in open_now and by_hand not in barred and asked.get(by_hand, 0) < often:
            return by_hand
    open_ones = _open_obstacles(topic, decision, readings, asked, mentioned, barred)
    return next((question for question in open_ones if not touched or question in mentioned), None)


def obstacles(
    topic: Topic,
    decision: Decision,
    readings: Sequence[Reading],
    mentioned: frozenset[str] = frozenset(),
    barred: frozenset[str] = frozenset(),
) -> list[str]:
    """The obstacle questions whose guards hold and whose answers are not known, asked before or not."""
    return _open_obstacles(topic, decision, readings, {}, mentioned, barred)


def try_by_hand(topic: Topic, decision: Decision) -> str | None:
    """The question whether the first one's remover goes home by hand, where the two named are declared look-alikes."""
    named = {topic.model.remedies[place] for place in decision.remedies}
    pairs = topic.catalogue.look_alikes
    found = (p.by_hand for p in pairs if {remedy_of(topic.fastenings[name]) for name in p.fastenings} == named)
    return next(found, None)


def _open_obstacles(
    topic: Topic,
    decision: Decision,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str],
    barred: frozenset[str],
) -> list[str]:
    view = View(standing_choices(topic, readings), leading_traits(topic, decision), mentioned)
    known = {r.question for r in readings}
    return [
        question.id
        for question, guards in askable(topic)
        if question.purpose == "obstacle"
        and question.id not in known | barred
        and not asked.get(question.id)
        and all(holds(guard, view) for guard in guards)
    ]
