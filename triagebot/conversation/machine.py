"""The state machine of a conversation: the states of one topic's flow file, and the conversation's own.

Everything that decides which state may follow which is here and in the flow file:
- a topic says in its flow file which questions are asked, under which guards, and how a conversation ends;
- the conversation itself adds `STATES`, which are the same for every topic, and the ways to and from them (`_ways`):
  choosing which answer is to change, what is asked about the conversation itself, a person of the shop having it, and
  being led through the work step by step;
- these own states lie upon the others: the state beneath waits, and `lapse` and `give-back` lead back to it;
- what was asked once may be asked again (`ask-again`) whatever the guards say, since the person brought it up;
- what is told of something that can only be seen with the wheel out says that it is out by now (`standing_choices`);
- conditions and callbacks are named, and looked up when they are needed: a guard of the flow file by its name, a method
  of `Position` by its own, and what is said on entering a state (`_SAYS`) among the methods of the turn.

One machine a topic serves every case: a turn lends it a throw-away `Position`. The machine is synchronous and pure;
which question is worth asking is decided in `policy.py`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from transitions import EventData, Machine, MachineError

from triagebot.identify import ChoiceReading, Reading, UnsureReading
from triagebot.topics import OWN_STATES, Flow, Guard, Question, Topic, expand
from triagebot.topics.schema import State, Transition

#: What is asked about the conversation itself, and the state that waits for the answer.
CONFIRMING: Mapping[str, str] = {
    "forget": "confirming-to-forget",
    "language": "choosing-a-language",
    "move": "confirming-to-move",
    "visit": "confirming-a-visit",
    "hold": "confirming-a-hold",
}
CHOOSING, HANDED = "choosing-what-to-change", "with-a-member-of-staff"
ON_A_STEP, IN_TROUBLE = "on-a-step", "in-trouble-on-a-step"
STATES = (CHOOSING, *CONFIRMING.values(), HANDED, ON_A_STEP, IN_TROUBLE)
assert set(STATES) == OWN_STATES, "a flow file must not use their names"

#: Stands before the name of a guard of the flow file.
_GUARD = "guard "
#: What is said on entering a state by a trigger.
_SAYS: Mapping[str, str] = {
    "doubt": "ask_back",
    "stop": "say_stopped",
    "step": "tell_step",
    "trouble": "tell_help",
    "list": "list_answers",
    "forget": "ask_whether_to_forget",
    "language": "list_languages",
}


@dataclass(frozen=True, slots=True)
class View:
    """What guards may look at: the latest choice a question, traits of the leading remover, questions touched on."""

    answered: Mapping[str, str] = field(default_factory=dict)
    leading: frozenset[str] = frozenset()
    mentioned: frozenset[str] = frozenset()


@dataclass
class Position:
    """Where one case stands for the length of a transition. `planned` is the state that the trigger is to reach,
    `record` writes down that it was reached, and `host` says what is said there."""

    state: str
    view: View = field(default_factory=View)
    planned: str | None = None
    guards: Mapping[str, Guard] = field(default_factory=dict)
    record: Callable[[str], None] | None = None
    host: object = None

    def is_planned(self, event: EventData) -> bool:
        assert event.transition is not None
        return self.planned in (None, event.transition.dest)

    def written_down(self, event: EventData) -> None:
        if self.record is not None:
            self.record(self.state)

    def __getattr__(self, name: str) -> Callable[[EventData], Any]:
        """A condition or a callback that the machine names."""
        if name.startswith(_GUARD):
            guard = self.guards[name.removeprefix(_GUARD)]
            return lambda event: holds(guard, self.view)
        if name in _SAYS.values():
            say: Callable[[], None] = getattr(self.host, name, lambda: None)
            return lambda event: say()
        raise AttributeError(name)


def holds(guard: Guard, view: View) -> bool:
    """Whether every part of a guard holds in this view."""
    for question, choices in guard.answered.items():
        if view.answered.get(question) not in choices:
            return False
    for question, choices in guard.not_answered.items():
        if view.answered.get(question) in choices:
            return False
    return (not guard.leading or bool(view.leading.intersection(guard.leading))) and (
        not guard.mentioned or bool(view.mentioned.intersection(guard.mentioned))
    )


def whole(flow: Flow) -> Flow:
    """The flow of a topic with the conversation's own states and ways: what the machine is built and drawn from."""
    states = (*flow.states, *(State(id=name) for name in STATES))
    return flow.model_copy(update={"states": states, "transitions": (*flow.transitions, *_ways(flow))})


def _ways(flow: Flow) -> list[Transition]:
    """The ways to and from the conversation's own states, and back to a question that was asked already."""
    everywhere, aside = ("*",), (CHOOSING, *CONFIRMING.values())
    talk, asking = [state.id for state in flow.states], [state.id for state in flow.states if state.question]
    rows: list[tuple[str, tuple[str, ...], str]] = [("ask-again", everywhere, state) for state in asking]
    rows += [("list", everywhere, CHOOSING), ("hand-over", everywhere, HANDED)]
    rows += [(trigger, everywhere, state) for trigger, state in CONFIRMING.items()]
    guided, ended = (ON_A_STEP, IN_TROUBLE), [state.id for state in flow.states if state.outcome]
    rows += [("step", (*ended, *guided), ON_A_STEP), ("trouble", guided, IN_TROUBLE)]
    rows += [("leave", guided, state) for state in ended]
    rows += [("give-back", (HANDED,), state) for state in (*talk, *guided)]
    rows += [("lapse", aside, state) for state in (*talk, HANDED, *guided)]
    return [Transition(trigger=trigger, source=source, to=to) for trigger, source, to in rows]


@lru_cache(maxsize=64)
def machine_of(topic: Topic) -> Machine:
    """The machine of a topic; built once (0.3 ms a hundred transitions) and shared by every case."""
    flow = whole(topic.flow)
    return Machine(
        model=None,
        states=[state.id for state in flow.states],
        transitions=[
            {
                "trigger": trigger,
                "source": source,
                "dest": dest,
                "conditions": ["is_planned", *(f"{_GUARD}{name}" for name in guards)],
                "after": ["written_down", *([_SAYS[trigger]] if trigger in _SAYS else [])],
            }
            for trigger, source, dest, guards in expand(flow)
        ],
        initial=flow.start,
        auto_transitions=False,
        send_event=True,
    )


def move(topic: Topic, position: Position, trigger: str, to: str | None = None) -> str:
    """Fire `trigger`, to the state `to` where several may be reached; returns the new state.

    Raises MachineError naming trigger and state when no transition allows it: a fault of the topic, found by `check`.
    """
    machine = machine_of(topic)
    position.planned, position.guards = to, topic.flow.guards
    if position.state not in machine.states:  # the topic has changed since
        position.state = topic.flow.start
    # The event itself, in place of methods on the position: to bind those took ten times as long as the transition.
    event = machine.events.get(trigger)
    if event is None or not event.trigger(position):
        raise MachineError(f"no guard lets {trigger!r} lead from {position.state!r} to {to or 'anywhere'!r}")
    return position.state


# --- which questions can be asked, and what must be done first ----------------------------------------------------


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
