"""The machine of the topic that ships: every state reached, every trigger that is fired allowed, all of it drawn."""

from itertools import product

import pytest
from transitions import MachineError

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Guide
from triagebot.conversation.machine import CHOOSING, CONFIRMING, HANDED, Position, View, holds, machine_of, move, whole
from triagebot.topics import Flow, Guard, Topic, expand, mermaid

STATES = [state.id for state in whole(shipped_guide().topic.flow).states]
#: Those from which a question is put or an outcome told; from the others a conversation first goes back.
TALKING = [state.id for state in shipped_guide().topic.flow.states]
#: What the conversation fires at any moment, whatever state it is in, and whether it names the state to reach.
FIRED_ANYWHERE = ("conclude", "doubt", "person", "restart", "stop")


def targets(flow: Flow, trigger: str) -> list[str]:
    return list(dict.fromkeys(t.to for t in flow.transitions if t.trigger == trigger))


def satisfied(guards: list[Guard]) -> View:
    """A view in which all of these hold."""
    return View(
        answered={question: choices[0] for guard in guards for question, choices in guard.answered.items()},
        leading=frozenset(trait for guard in guards for trait in guard.leading),
        mentioned=frozenset(question for guard in guards for question in guard.mentioned),
    )


def test_every_state_is_reached_from_the_start(guide: Guide) -> None:
    flow = whole(guide.topic.flow)
    reached, new = {flow.start}, [flow.start]
    while new:
        state = new.pop()
        for trigger, source, to, guards in expand(flow):
            if source == state and to not in reached:
                view = satisfied([flow.guards[name] for name in guards])
                assert move(guide.topic, Position(state, view), trigger, to) == to
                reached.add(to)
                new.append(to)
    assert reached == set(STATES)


@pytest.mark.parametrize("state", TALKING)
def test_what_is_fired_anywhere_is_allowed_everywhere(guide: Guide, state: str) -> None:
    for trigger in FIRED_ANYWHERE:
        for to in targets(guide.topic.flow, trigger):
            assert move(guide.topic, Position(state), trigger, to) == to


@pytest.mark.parametrize("state", TALKING)
def test_every_question_can_be_asked_from_everywhere(guide: Guide, state: str) -> None:
    flow = guide.topic.flow
    for transition in flow.transitions:
        if transition.trigger == "ask":
            view = satisfied([flow.guards[name] for name in transition.guards])
            assert move(guide.topic, Position(state, view), "ask", transition.to) == transition.to


def test_a_guard_that_does_not_hold_bars_the_way(guide: Guide) -> None:
    position = Position("ask-wheel", View(answered={"wheel": "in"}))
    with pytest.raises(MachineError, match="ask-wheel"):
        move(guide.topic, position, "ask", "ask-size")
    assert position.state == "ask-wheel"


def test_guards_are_what_the_flow_file_says(guide: Guide) -> None:
    flow = guide.topic.flow
    for (name, guard), wheel, fitting in product(flow.guards.items(), ("in", "out", None), ("splines", "none", None)):
        answered = {q: c for q, c in (("wheel", wheel), ("fitting", fitting)) if c}
        expected = {
            "wheel-not-in": wheel != "in",
            "has-fitting": fitting != "none",
            "clamped-remover": False,
            "damage-mentioned": False,
            "electric-bike": False,
        }
        if name in expected:
            assert holds(guard, View(answered=answered)) == expected[name], name


def test_one_machine_serves_every_case(guide: Guide) -> None:
    machine = machine_of(guide.topic)
    first, second = Position("begin"), Position("begin")
    move(guide.topic, first, "ask", "ask-drive")
    move(guide.topic, second, "stop")
    assert (first.state, second.state) == ("ask-drive", "stopped")
    assert machine_of(guide.topic) is machine
    assert machine.models == []


def test_the_drawing_has_every_state_and_every_way(guide: Guide) -> None:
    drawn = mermaid(whole(guide.topic.flow))
    assert drawn.splitlines()[0].startswith("stateDiagram")
    for state in STATES:
        assert state.replace("-", "_") in drawn
    for transition in whole(guide.topic.flow).transitions:
        assert f" : {transition.trigger}" in drawn


def test_a_way_that_is_not_there_is_named(guide: Guide) -> None:
    """`begin` is left for good: nothing but a restart leads back."""
    with pytest.raises(MachineError, match=r"restart.*ask-hub.*ask-wheel"):
        move(guide.topic, Position("ask-hub"), "restart", "ask-wheel")


def test_a_topic_with_another_machine_gets_its_own(guide: Guide) -> None:
    topic = guide.topic
    fewer = topic.flow.model_copy(update={"transitions": topic.flow.transitions[1:]})
    other = Topic(topic.folder, topic.id, topic.catalogue, fewer, topic.sources, topic.gauges, "other")
    with pytest.raises(MachineError):
        move(other, Position("begin"), "ask", "ask-wheel")
    assert move(topic, Position("begin"), "ask", "ask-wheel") == "ask-wheel"


@pytest.mark.parametrize("state", STATES)
def test_the_conversation_itself_can_be_spoken_of_anywhere(guide: Guide, state: str) -> None:
    for trigger, to in {"list": CHOOSING, "hand-over": HANDED, **CONFIRMING}.items():
        assert move(guide.topic, Position(state), trigger) == to
        back = "give-back" if to == HANDED else "lapse"
        for beneath in TALKING:
            assert move(guide.topic, Position(to), back, beneath) == beneath


def test_while_a_member_has_it_nothing_is_asked_or_concluded(guide: Guide) -> None:
    for trigger, to in (("ask", "ask-drive"), ("conclude", "answered"), ("doubt", "confirm"), ("lapse", "begin")):
        with pytest.raises(MachineError):
            move(guide.topic, Position(HANDED), trigger, to)


def test_what_was_asked_before_is_asked_again_whatever_its_guards_say(guide: Guide) -> None:
    wheel_in = View(answered={"wheel": "in"})
    assert move(guide.topic, Position("answered", wheel_in), "ask-again", "ask-size") == "ask-size"


def test_a_state_that_the_topic_no_longer_has_is_as_good_as_the_beginning(guide: Guide) -> None:
    assert move(guide.topic, Position("ask-nothing-any-more"), "ask", "ask-drive") == "ask-drive"


def test_on_entering_a_state_it_is_written_down_before_anything_is_said(guide: Guide) -> None:
    said: list[str] = []

    class Host:
        def list_answers(self) -> None:
            said.append("the list")

    position = Position("ask-size", record=said.append, host=Host())
    move(guide.topic, position, "list")
    assert said == [CHOOSING, "the list"]
