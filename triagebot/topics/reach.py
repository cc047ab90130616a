"""Proofs about the machine of a topic: every state can be entered and left, every question can be asked.

Decided here and nowhere else: what counts as a way out (some outcome, and from there a restart), and which guards can
never hold. Needs a topic whose ids are all resolved (`references.py`).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from triagebot.errors import Problem
from triagebot.topics.flowchart import ALWAYS, TRIGGERS, expand, sources
from triagebot.topics.marks import Files
from triagebot.topics.schema import Flow, Guard
from triagebot.topics.topic import Topic

FILE = "flow.yaml"

#: Every conversation may end in each of these ways, so each has its state.
OUTCOMES = ("answer", "look-alike", "person", "stopped")


def machine_faults(topic: Topic, files: Files) -> list[Problem]:
    """Every state, question and guard of the machine that leads nowhere or is never reached."""
    return [
        *_guard_faults(topic, files),
        *_state_faults(topic.flow, files),
        *_trigger_faults(topic.flow, files),
        *_question_faults(topic, files),
    ]


def impossible(guards: Iterable[Guard], flow: Flow) -> str | None:
    """Why these guards can never hold together, or None. What is answered must be one choice, and not a denied one."""
    open_choices: dict[str, set[str]] = {}
    guards = tuple(guards)
    for guard in guards:
        for question, choices in guard.answered.items():
            open_choices[question] = open_choices.get(question, set(choices)) & set(choices)
    for guard in guards:
        for question, choices in guard.not_answered.items():
            if question in open_choices:
                open_choices[question] -= set(choices)
    for question, left in open_choices.items():
        if not left:
            return f"no answer to {question!r} satisfies it"
    return None


def _guard_faults(topic: Topic, files: Files) -> list[Problem]:
    flow = topic.flow
    found = []
    for name, guard in flow.guards.items():
        reason = impossible([guard], flow)
        if reason is None and not guard.model_fields_set:
            reason = "it says nothing"
        if reason is not None:
            found.append(files.problem(FILE, ("guards", name), f"this guard can never hold: {reason}", key=True))
    dead = {name for name, guard in flow.guards.items() if impossible([guard], flow)}
    for place, transition in enumerate(flow.transitions):
        if not dead.intersection(transition.guards):
            reason = impossible((flow.guards[name] for name in transition.guards), flow)
            if reason is not None:
                message = f"these guards can never hold together: {reason}"
                found.append(files.problem(FILE, ("transitions", place, "guards"), message))
    return found


def _passable(flow: Flow) -> Mapping[str, set[str]]:
    """From each state, the states that some transition which can fire leads to."""
    steps: dict[str, set[str]] = defaultdict(set)
    for _, source, to, guards in expand(flow):
        if impossible((flow.guards[name] for name in guards), flow) is None:
            steps[source].add(to)
    return steps


def _closure(starts: Iterable[str], steps: Mapping[str, set[str]]) -> set[str]:
    seen = set(starts)
    waiting = list(seen)
    while waiting:
        for state in steps.get(waiting.pop(), ()):
            if state not in seen:
                seen.add(state)
                waiting.append(state)
    return seen


def _state_faults(flow: Flow, files: Files) -> list[Problem]:
    steps = _passable(flow)
    back: dict[str, set[str]] = defaultdict(set)
    for source, reached in steps.items():
        for to in reached:
            back[to].add(source)
    reachable = _closure([flow.start], steps)
    outcomes = [state.id for state in flow.states if state.outcome is not None]
    ending = _closure(outcomes, back)
    found = []
    for place, state in enumerate(flow.states):
        path = ("states", place, "id")
        if state.id not in reachable:
            found.append(files.problem(FILE, path, f"no way leads here from {flow.start!r}"))
        if not steps.get(state.id, set()) - {state.id}:
            found.append(files.problem(FILE, path, "no way leads out of this state"))
        elif state.id not in ending:
            found.append(files.problem(FILE, path, "from here the conversation never ends: no outcome can be reached"))
    present = {state.outcome for state in flow.states}
    for outcome in OUTCOMES:
        if outcome not in present:
            found.append(files.problem(FILE, ("states",), f"no state has the outcome {outcome!r}", key=True))
    return found


def _trigger_faults(flow: Flow, files: Files) -> list[Problem]:
    """Triggers without any transition, and words that must always work and do not."""
    given: dict[str, set[str]] = {trigger: set() for trigger in TRIGGERS}
    for transition in flow.transitions:
        for word in transition.source:
            given[transition.trigger].update(sources(word, flow.states))
    found = []
    for trigger, states in given.items():
        missing = [state.id for state in flow.states if state.id not in states]
        if not states:
            found.append(files.problem(FILE, ("transitions",), f"no transition for {trigger!r}", key=True))
        elif trigger in ALWAYS and missing:
            message = f"{trigger!r} must work in every state; not in {', '.join(missing)}"
            place = next(place for place, row in enumerate(flow.transitions) if row.trigger == trigger)
            found.append(files.problem(FILE, ("transitions", place, "source"), message))
    return found


def _question_faults(topic: Topic, files: Files) -> list[Problem]:
    flow = topic.flow
    asked_in: dict[str, list[int]] = defaultdict(list)
    for place, state in enumerate(flow.states):
        if state.question is not None:
            asked_in[state.question].append(place)
    found = [
        files.problem(FILE, ("states", place, "question"), "another state asks this question already")
        for places in asked_in.values()
        for place in places[1:]
    ]
    ways = _ways_to_ask(flow)
    can = _askable(flow, ways)
    for place, question in enumerate(flow.questions):
        path = ("questions", place, "id")
        if question.id not in asked_in:
            found.append(files.problem(FILE, path, "no state asks this question"))
        elif question.id not in ways:
            found.append(files.problem(FILE, path, "no 'ask' transition leads to this question"))
        elif question.id not in can:
            message = "it can never be asked: its guards wait for answers that only come after it"
            found.append(files.problem(FILE, path, message))
    return found


def _ways_to_ask(flow: Flow) -> dict[str, list[tuple[str, ...]]]:
    asking = {state.id: state.question for state in flow.states}
    ways: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for transition in flow.transitions:
        question = asking[transition.to]
        if transition.trigger == "ask" and question is not None:
            ways[question].append(transition.guards)
    return ways


def _askable(flow: Flow, ways: Mapping[str, list[tuple[str, ...]]]) -> set[str]:
    """The questions that can be asked when nobody says anything unasked: grown from none until it stands still."""
    can: set[str] = set()
    grew = True
    while grew:
        new = {
            question
            for question, paths in ways.items()
            if question not in can
            and any(all(can.issuperset(flow.guards[name].answered) for name in guards) for guards in paths)
        }
        can |= new
        grew = bool(new)
    return can
