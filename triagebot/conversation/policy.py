"""What to do next in a case: ask which question, or stop with which outcome. No wording.

Decided here and nowhere else:
- which questions this person can be asked now: the machine's `ask` transitions whose guards hold, asked not too often;
- a question whose only hindrance is an unanswered ability question ("is the wheel out?") counts with both prices,
  and the ability question is asked first;
- obstacles (what blocks or clamps the tool) are followed up once, after the remover has been named;
- what somebody has told is not asked again while anything else is worth asking, unless it does not fit the rest;
- what does not fit the rest is asked once more, in other words, before a remover is named;
- counts that speak against what would be named are asked for again; where that cannot be, a person looks;
- after `patience` times "I don't know" in a row nobody is asked on;
- a question that could send the person to the shop is asked before a remover is named, once it was touched on;
- some answers send a person to the shop whatever else is known (referrals).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import takewhile

from triagebot.conversation.machine import View, holds
from triagebot.conversation.second_look import contradicted
from triagebot.identify import Candidate, ChoiceReading, Decision, Model, Reading, UnsureReading, odd_one_out, plan
from triagebot.identify.information import Array
from triagebot.identify.planner import Plan
from triagebot.topics import Guard, Question, Referral, Topic

#: How many questions somebody must have answered before their own share of "I don't know" counts for half.
_PATIENCE = 4


@dataclass(frozen=True, slots=True)
class NextStep:
    """The next step. `question` None means: stop with `decision`. `again`: it was answered before; `doubted`: since
    its answer does not fit the others. `referral`: the answer that sends the person to the shop."""

    question: str | None
    decision: Decision
    shares: Array
    again: bool = False
    doubted: bool = False
    referral: Referral | None = None


def next_step(
    topic: Topic,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str] = frozenset(),
    barred: frozenset[str] = frozenset(),
) -> NextStep:
    """Decide the next step from the readings in force, how often each question was asked, and what was touched on.

    `barred` questions are never asked (a shop without a table of makers' words bars `marking`).
    """
    latest = latest_choices(readings)
    referral = next((r for r in topic.flow.referrals if latest.get(r.question) == r.choice), None)
    candidates, enablers = _candidates(topic, View(latest, frozenset(), mentioned), readings, asked, barred)
    odd = odd_one_out(topic.model, readings)
    told = {r.question for r in readings} - {odd}
    worth = plan(topic.model, readings, [c for c in candidates if c.question not in told])
    if worth.question is None:
        worth = plan(topic.model, readings, candidates)
    if referral is not None:
        return NextStep(None, worth.decision, worth.shares, referral=referral)
    limits = topic.flow.outcomes
    if sum(asked.values()) >= limits.most_questions or _unsure_in_a_row(readings) >= limits.patience:
        return NextStep(None, _borne_out(topic, worth.decision, readings), worth.shares)
    question = _in_fixed_order(topic, candidates, readings) if topic.flow.order == "fixed" else worth.question
    if question is None and worth.decision.kind != "person":
        question = _unseen(topic, candidates, readings)
    if question is None and worth.decision.kind == "answer" and _told_once(odd, candidates, readings):
        question = odd
    if question is None:
        able = {candidate.question for candidate in candidates}
        question = next((q for q in contradicted(topic, worth.decision, readings) if q in able), None)
    decision = worth.decision if question is not None else _borne_out(topic, worth.decision, readings)
    if question is None and decision.kind != "person":
        question = _must_know(topic, decision, readings, asked, mentioned, barred)
    if question is not None:
        return _asking(topic, enablers.get(question, question), worth, readings)
    return NextStep(None, decision, worth.shares)


def _borne_out(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> Decision:
    """The decision, or a person where counts speak against what it names."""
    return Decision("person", (), decision.loss) if contradicted(topic, decision, readings) else decision


@lru_cache(maxsize=64)
def askable(topic: Topic) -> tuple[tuple[Question, tuple[Guard, ...]], ...]:
    """Every question that a transition can lead to, with the guards on its way, in the flow's order."""
    asking = {state.id: state.question for state in topic.flow.states if state.question}
    found: dict[str, tuple[Guard, ...]] = {}
    for transition in topic.flow.transitions:
        question = asking.get(transition.to)
        if transition.trigger == "ask" and question:
            found.setdefault(question, tuple(topic.flow.guards[name] for name in transition.guards))
    return tuple((topic.questions[question], guards) for question, guards in found.items())


def _asking(topic: Topic, question: str, worth: Plan, readings: Sequence[Reading]) -> NextStep:
    able = topic.questions[question].purpose == "ability"
    again = not able and any(r.question == question for r in readings)
    doubted = again and odd_one_out(topic.model, readings) == question
    return NextStep(question, worth.decision, worth.shares, again=again, doubted=doubted)


def _told_once(question: str | None, candidates: Sequence[Candidate], readings: Sequence[Reading]) -> bool:
    return any(c.question == question for c in candidates) and sum(r.question == question for r in readings) == 1


def _unsure_in_a_row(readings: Sequence[Reading]) -> int:
    return len(list(takewhile(lambda reading: isinstance(reading, UnsureReading), reversed(readings))))


def ranked(model: Model, shares: Array) -> tuple[str, ...]:
    """The fastenings by id, likeliest first; among equals in the order of the topic."""
    order = sorted(range(len(model.fastenings)), key=lambda place: -shares[place])
    return tuple(model.fastenings[place] for place in order)


def plausible(model: Model, shares: Array) -> tuple[str, ...]:
    """Those that keep the flow's `plausible` or more, likeliest first."""
    kept = sum(share >= model.plausible for share in shares)
    return ranked(model, shares)[:kept]


def latest_choices(readings: Sequence[Reading]) -> dict[str, str]:
    """The latest plain choice a question."""
    return {r.question: r.choice for r in readings if isinstance(r, ChoiceReading) and not r.denied}


def _unseen(topic: Topic, candidates: Sequence[Candidate], readings: Sequence[Reading]) -> str | None:
    """The question to ask when a remover would be named although nobody has looked at the fitting itself."""
    sights = topic.flow.outcomes.sights
    if any(r.question in sights and not isinstance(r, UnsureReading) for r in readings):
        return None
    return next((sight for sight in sights if any(c.question == sight for c in candidates)), None)


def leading_traits(topic: Topic, decision: Decision) -> frozenset[str]:
    """Traits of the removers that the decision names."""
    named = [topic.model.remedies[place].remover for place in decision.remedies]
    return frozenset(trait for remover in named if remover for trait in topic.removers[remover].traits)


def _candidates(
    topic: Topic, view: View, readings: Sequence[Reading], asked: Mapping[str, int], barred: frozenset[str]
) -> tuple[list[Candidate], dict[str, str]]:
    candidates: list[Candidate] = []
    enablers: dict[str, str] = {}
    again = topic.flow.losses.again
    answered = {r.question for r in readings}
    for question, guards in askable(topic):
        asks = max(asked.get(question.id, 0), sum(r.question == question.id for r in readings))
        if question.purpose != "identify" or question.id in barred or asks >= question.asks:
            continue
        price = question.price * (again if asks or question.id in answered else 1)
        failing = [guard for guard in guards if not holds(guard, view)]
        if failing:
            enabler = _enabler(topic, failing, view, asked, barred)
            if enabler is None:
                continue
            enablers[question.id] = enabler.id
            price += enabler.price
        candidates.append(Candidate(question.id, price, _unsure(topic, question, readings)))
    return candidates, enablers


def _unsure(topic: Topic, question: Question, readings: Sequence[Reading]) -> float:
    """P(this person will not know): the question's own rate, or the person's where that is higher; and who was not
    sure about it before says so again with the chance that answers repeat."""
    told = {r.question: isinstance(r, UnsureReading) for r in readings}
    own = sum(told.values()) / (len(told) + _PATIENCE)
    rate = max(question.unsure, own)
    repeat = topic.flow.noise.repeat
    return repeat + (1 - repeat) * rate if told.get(question.id) else rate


def _enabler(
    topic: Topic, failing: Sequence[Guard], view: View, asked: Mapping[str, int], barred: frozenset[str]
) -> Question | None:
    """The one ability question that could make every failing guard hold, if it may still be asked."""
    hindering = {question for guard in failing for question in abilities(topic, guard)}
    if len(hindering) != 1 or not all(holds(without_abilities(topic, guard), view) for guard in failing):
        return None
    question = topic.questions[hindering.pop()]
    return question if question.id not in barred and asked.get(question.id, 0) < question.asks else None


def abilities(topic: Topic, guard: Guard) -> tuple[str, ...]:
    """The ability questions that a guard looks at."""
    looked_at = (*guard.answered, *guard.not_answered)
    return tuple(question for question in looked_at if topic.questions[question].purpose == "ability")


def without_abilities(topic: Topic, guard: Guard) -> Guard:
    """The rest of a guard."""
    able = abilities(topic, guard)
    return guard.model_copy(
        update={
            "answered": {q: c for q, c in guard.answered.items() if q not in able},
            "not_answered": {q: c for q, c in guard.not_answered.items() if q not in able},
        }
    )


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
    """The obstacle question to add once a remover was named: one whose guards hold, not asked or known yet; only what
    was `touched` on, where that is wanted."""
    if decision.kind == "person":
        return None
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


def _open_obstacles(
    topic: Topic,
    decision: Decision,
    readings: Sequence[Reading],
    asked: Mapping[str, int],
    mentioned: frozenset[str],
    barred: frozenset[str],
) -> list[str]:
    view = View(latest_choices(readings), leading_traits(topic, decision), mentioned)
    known = {r.question for r in readings}
    return [
        question.id
        for question, guards in askable(topic)
        if question.purpose == "obstacle"
        and question.id not in known | barred
        and not asked.get(question.id)
        and all(holds(guard, view) for guard in guards)
    ]
