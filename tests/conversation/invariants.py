"""What must hold after every turn, whatever was said."""

import json

import pytest

from triagebot.conversation import Case, Event, Guide, Reply, fold_events, plain
from triagebot.conversation.events import from_json, to_json
from triagebot.conversation.machine import machine_of, whole

SIGNAL_WORDS = ("WARNING", "CAUTION", "NOTICE")
TOOL_LINE = "Remover: "


def hold_after_a_turn(guide: Guide, case: Case, reply: Reply, events: tuple[Event, ...]) -> None:
    """Asserts all of them for one turn. `events` are the new ones."""
    assert events, "a turn that leaves no trace cannot be told from one that never was"
    hold_for_a_case(guide, case)
    hold_for_a_reply(guide, case, reply)
    for event in events:
        assert through_json(event) == event


def through_json(event: Event) -> Event:
    return from_json(json.loads(json.dumps(to_json(event))))


def hold_for_a_case(guide: Guide, case: Case) -> None:
    assert fold_events(case.events) == case
    topic = guide.topic
    assert case.digest == topic.digest
    assert case.now.state in {state.id for state in whole(topic.flow).states}
    triggers = machine_of(topic).get_triggers(case.now.state)
    assert "restart" in triggers
    assert len(triggers) > 1
    state = next(state for state in whole(topic.flow).states if state.id == case.now.state)
    if state.question is not None:
        assert state.question == case.now.question


def hold_for_a_reply(guide: Guide, case: Case, reply: Reply) -> None:
    topic = guide.topic
    shares = [row.probability for row in reply.candidates]
    assert sum(shares) == pytest.approx(1, abs=1e-6)
    assert shares == sorted(shares, reverse=True)
    assert sorted(row.fastening for row in reply.candidates) == sorted(topic.fastenings)
    assert all(topic.fastenings[row.fastening].remover == row.remover for row in reply.candidates)

    assert reply.status == (case.now.outcome or "question")
    if reply.status == "question":
        asked_back = case.now.puzzle is not None or case.now.picking
        assert (reply.question is not None) != asked_back
    if reply.question is not None:
        assert [choice.id for choice in reply.question.aside][:2] == ["unsure", "how"]
        assert reply.question.text
        assert all(choice.label for choice in reply.question.choices)
    assert plain(reply).strip()

    if reply.status == "look-alike":
        assert reply.result.fastening is None
    named = reply.result.remover
    assert (named is not None) == (reply.status == "answer")
    if named is not None:
        fastening = topic.fastenings[str(reply.result.fastening)]
        assert fastening.remover == named
        assert not fastening.broad
        others: dict[str | None, float] = {}
        for row in reply.candidates:
            if row.remover != named:
                others[row.remover] = others.get(row.remover, 0.0) + row.probability
        assert max(others.values()) < topic.flow.outcomes.plausible
    warned_before_tools(plain(reply))


def warned_before_tools(text: str) -> None:
    lines = text.split("\n")
    tools = [n for n, line in enumerate(lines) if TOOL_LINE in line]
    warnings = [n for n, line in enumerate(lines) if line.startswith(SIGNAL_WORDS)]
    if tools:
        assert warnings
        assert min(warnings) < min(tools)
