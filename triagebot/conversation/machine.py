"""The state machine of one topic, built from its flow file with `transitions`, and its guards.

One machine a topic serves every case: a turn lends it a throw-away `Position`. The machine is synchronous and pure;
what a state means to a person is decided in `turn.py`, which question is worth asking in `policy.py`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import cast

from transitions import EventData, Machine, MachineError

from triagebot.topics import Guard, Topic, expand


@dataclass(frozen=True, slots=True)
class View:
    """What guards may look at: the latest choice a question, traits of the leading remover, questions touched on."""

    answered: Mapping[str, str] = field(default_factory=dict)
    leading: frozenset[str] = frozenset()
    mentioned: frozenset[str] = frozenset()


@dataclass
class Position:
    """Where one case stands for the length of a turn. `planned` is the state that the next trigger is to reach."""

    state: str
    view: View = field(default_factory=View)
    planned: str | None = None


def holds(guard: Guard, view: View) -> bool:
    """Whether every part of a guard holds in this view."""
    return (
        all(view.answered.get(question) in choices for question, choices in guard.answered.items())
        and all(view.answered.get(question) not in choices for question, choices in guard.not_answered.items())
        and (not guard.leading or bool(view.leading.intersection(guard.leading)))
        and (not guard.mentioned or bool(view.mentioned.intersection(guard.mentioned)))
    )


class _Condition:
    """A guard as `transitions` calls it."""

    def __init__(self, name: str, guard: Guard) -> None:
        self.__name__ = name
        self.guard = guard

    def __call__(self, event: EventData) -> bool:
        position = cast(Position, event.model)
        return holds(self.guard, position.view)


def _is_planned(event: EventData) -> bool:
    position = cast(Position, event.model)
    assert event.transition is not None
    return position.planned in (None, event.transition.dest)


@lru_cache(maxsize=64)
def machine_of(topic: Topic) -> Machine:
    """The machine of a topic; built once (0.3 ms a hundred transitions) and shared by every case."""
    flow = topic.flow
    conditions = {name: _Condition(name, guard) for name, guard in flow.guards.items()}
    return Machine(
        model=None,
        states=[state.id for state in flow.states],
        transitions=[
            {
                "trigger": trigger,
                "source": source,
                "dest": dest,
                "conditions": [_is_planned, *(conditions[name] for name in guards)],
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
    position.planned = to
    # The event itself, in place of methods on the position: to bind those took ten times as long as the transition.
    event = machine_of(topic).events.get(trigger)
    if event is None or not event.trigger(position):
        raise MachineError(f"no guard lets {trigger!r} lead from {position.state!r} to {to or 'anywhere'!r}")
    return position.state
