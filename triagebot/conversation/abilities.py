"""What a person must do first (take the wheel out) before they can see what a question asks about. No wording.

Rules of this file:
- what is told of something that can only be seen with the wheel out says that it is out by now;
- the question itself carries what to do first, so that both are done on one message; whoever is hindered still is asked
  about that alone.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from triagebot.conversation.machine import View, holds
from triagebot.identify import ChoiceReading, Reading, UnsureReading
from triagebot.topics import Guard, Question, Topic


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


def latest_choices(readings: Sequence[Reading]) -> dict[str, str]:
    """The latest plain choice a question."""
    return {r.question: r.choice for r in readings if isinstance(r, ChoiceReading) and not r.denied}


def standing_choices(topic: Topic, readings: Sequence[Reading]) -> dict[str, str]:
    """The latest choices, but for an ability after which something was told that needs it: that is there by now."""
    latest = latest_choices(readings)
    for ability in [question for question in latest if topic.questions[question].purpose == "ability"]:
        last = max(place for place, reading in enumerate(readings) if reading.question == ability)
        later = {r.question for r in readings[last + 1 :] if not isinstance(r, UnsureReading)}
        if any(ability in needed(topic, question) for question in later):
            del latest[ability]
    return latest


@lru_cache(maxsize=1024)
def needed(topic: Topic, question: str) -> frozenset[str]:
    """The abilities that a question needs."""
    guards = next((guards for known, guards in askable(topic) if known.id == question), ())
    return frozenset(ability for guard in guards for ability in abilities(topic, guard))


def hindering(topic: Topic, question: str, readings: Sequence[Reading]) -> str | None:
    """The ability that a question needs and that the person has not, by what they told; None where nothing hinders."""
    view = View(standing_choices(topic, readings))
    guards = next((guards for known, guards in askable(topic) if known.id == question), ())
    return next((name for guard in guards if not holds(guard, view) for name in abilities(topic, guard)), None)


def enabler(
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
