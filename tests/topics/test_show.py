"""The catalogue as a table and the machine as a diagram: complete, aligned, and drawable."""

import re

import pytest

from tests.topics.conftest import Bench
from triagebot.topics import Texts, Topic, built_in_topic, catalogue_table, expand, load_texts, load_topic, mermaid
from triagebot.topics.schema import Flow, State, Transition
from triagebot.topics.show import WIDTH


@pytest.fixture(scope="module")
def topic() -> Topic:
    return load_topic(built_in_topic())


@pytest.fixture(scope="module")
def texts() -> Texts:
    return load_texts(built_in_topic(), "en")


def _cells(table: str) -> list[dict[str, str]]:
    """Read a table back: columns start where the heading's words do, a row where its first cell begins a new id."""
    head, rule, *lines = table.splitlines()
    assert set(rule) == {"-"}
    starts = [match.start() for match in re.finditer(r"(?<=  )\S|^\S", head)]
    ends = [*starts[1:], WIDTH]
    names = [head[start:end].strip() for start, end in zip(starts, ends, strict=True)]
    rows: list[dict[str, str]] = []
    for line in lines:
        cells = [line[start:end].strip() for start, end in zip(starts, ends, strict=True)]
        if cells[names.index("system")]:
            rows.append(dict(zip(names, cells, strict=True)))
        else:
            for name, cell in zip(names, cells, strict=True):
                joined = rows[-1][name]
                rows[-1][name] = joined + cell if joined.endswith(("-", "/")) else f"{joined} {cell}".strip()
    return rows


def test_the_table_can_be_read_back(topic: Topic, texts: Texts) -> None:
    table = catalogue_table(topic, texts)
    assert max(map(len, table.splitlines())) <= WIDTH
    rows = _cells(table)
    assert [row["fastening"] for row in rows] == list(topic.fastenings)
    for row, fastening in zip(rows, topic.fastenings.values(), strict=True):
        assert row["system"] == fastening.system
        wanted = texts(f"remover-{fastening.remover}") if fastening.remover else "-"
        assert row["remover"] == wanted
        assert row["turns loose"] == (fastening.direction if fastening.remover else "-")


def test_the_table_says_what_the_trade_says(topic: Topic, texts: Texts) -> None:
    """Common practice: the 2-notch freewheel of 25 mm; the left-hand ring of a fixed hub; 40 N·m on a lockring."""
    rows = {row["fastening"]: row for row in _cells(catalogue_table(topic, texts))}
    two = rows["freewheel-2-notch"]
    assert (two["spin"], two["fitting"], two["count"], two["size"]) == ("stays", "notches", "2", "25")
    fixed = rows["fixed-notched-ring"]
    assert (fixed["count"], fixed["size"], fixed["turns loose"]) == ("3/4/6", "30-45", "clockwise")
    assert rows["cassette-12-spline"]["torque"] == "40"
    assert rows["cassette-12-spline"]["source"] == "common-practice, size: memory"
    assert rows["unlisted"]["remover"] == rows["freewheel-12-spline-small"]["remover"] == "-"


def _flow(bench: Bench, states: tuple[State, ...], transitions: tuple[Transition, ...]) -> Flow:
    return load_topic(bench.topic).flow.model_copy(update={"states": states, "transitions": transitions})


def test_words_for_many_states_are_written_out(bench: Bench) -> None:
    states = (
        State(id="begin"),
        State(id="ask-hub", question="hub"),
        State(id="ask-spin", question="spin"),
        State(id="done", outcome="answer"),
    )
    transitions = (
        Transition(trigger="ask", source=("begin", "asking", "ask-hub"), to="ask-spin", guards=("g",)),
        Transition(trigger="stop", source=("*",), to="done"),
        Transition(trigger="restart", source=("ended",), to="begin"),
    )
    assert expand(_flow(bench, states, transitions)) == [
        ("ask", "begin", "ask-spin", ("g",)),
        ("ask", "ask-hub", "ask-spin", ("g",)),
        ("ask", "ask-spin", "ask-spin", ("g",)),
        ("stop", "begin", "done", ()),
        ("stop", "ask-hub", "done", ()),
        ("stop", "ask-spin", "done", ()),
        ("stop", "done", "done", ()),
        ("restart", "done", "begin", ()),
    ]


def test_the_diagram_shows_every_state_and_every_way(topic: Topic) -> None:
    drawn = mermaid(topic.flow)
    lines = [line.strip() for line in drawn.splitlines()]
    assert lines[0] == "stateDiagram-v2"
    for state in topic.flow.states:
        name = state.id.replace("-", "_")
        assert sum(line.startswith(f"{name} : ") for line in lines) == 1, state.id
    for transition in topic.flow.transitions:
        to = "asking" if transition.trigger == "ask" else transition.to.replace("-", "_")
        assert any(re.fullmatch(rf"junction\d+ --> {to} : {transition.trigger}( \[.*\])?", line) for line in lines)
    assert any(line == "ask_count : count [wheel-not-in and has-fitting]" for line in lines)
    assert len([line for line in lines if "-->" in line]) <= 30, "a diagram of hundreds of arrows shows nothing"


def test_no_arrow_runs_between_a_box_and_its_own_inside(topic: Topic) -> None:
    """Mermaid cannot draw these: the box would be its own ancestor."""
    inside: dict[str, str] = {}
    box = None
    for line in map(str.strip, mermaid(topic.flow).splitlines()):
        if line.startswith("state ") and line.endswith("{"):
            box = line.split()[1]
        elif line == "}":
            box = None
        elif box and " : " in line:
            inside[line.split(" : ")[0]] = box
        elif "-->" in line:
            source, to = (part.strip() for part in line.split(" : ")[0].split("-->"))
            assert inside.get(source) != to
            assert inside.get(to) != source
    assert set(inside.values()) == {"asking", "ended"}
