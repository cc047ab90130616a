"""The transitions of a flow file with its words for many states written out, and what a machine must have.

Rules of this file: what `*`, `asking` and `ended` stand for, which triggers the conversation fires, and
which of them must work in every state.
"""

from collections.abc import Callable

from triagebot.topics.schema import Flow, State

#: A word in `source`, and which states it stands for.
GROUPS: dict[str, Callable[[State], bool]] = {
    "*": lambda state: True,
    "asking": lambda state: state.question is not None,
    "ended": lambda state: state.outcome is not None,
}

#: What the conversation fires: the next question, "did you mean …?", an end, and the words that always work.
TRIGGERS = ("ask", "doubt", "conclude", "person", "stop", "restart")
ALWAYS = ("person", "stop", "restart")

#: The conversation's own states, which every topic has besides those of its flow file.
OWN_STATES = frozenset(
    {
        "choosing-a-language",
        "choosing-what-to-change",
        "confirming-to-forget",
        "confirming-to-move",
        "confirming-a-visit",
        "confirming-a-hold",
        "in-trouble-on-a-step",
        "on-a-step",
        "with-a-member-of-staff",
    }
)

#: trigger, source state, state to go to, names of guards that must all hold.
Arrow = tuple[str, str, str, tuple[str, ...]]


def expand(flow: Flow) -> list[Arrow]:
    """Every single transition, in the order of the file; a source that no state has comes out as it stands."""
    return [
        (transition.trigger, source, transition.to, transition.guards)
        for transition in flow.transitions
        for source in dict.fromkeys(name for word in transition.source for name in sources(word, flow.states))
    ]


def sources(word: str, states: tuple[State, ...]) -> list[str]:
    """The states that one word of a transition's `source` stands for."""
    group = GROUPS.get(word)
    return [word] if group is None else [state.id for state in states if group(state)]
