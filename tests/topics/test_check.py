"""Every kind of fault, provoked by a small edit of the topic that ships, is told with its file, line and column."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.effort import effort
from tests.topics.conftest import Bench
from tests.topics.faults import (
    ALL_STATES,
    CATALOGUE,
    FLOW,
    GAUGES,
    NOT_EVERY,
    REFERENCES,
    SHAPE,
    SOURCES,
    TEXT,
    Edit,
    also,
)
from tests.topics.text_faults import WORDING
from triagebot.errors import DataError, Problem
from triagebot.topics import built_in_topic, check_topic, load_topic, wording

#: name: edits, and words of the message. Those that keep a topic from loading stand in `faults.py`.
LOOSE_ENDS: dict[str, tuple[list[Edit], str]] = {
    "source for nothing": ([(CATALOGUE, "size: memory, ", "§sise: memory, ")], "nothing called 'sise'"),
    "no source for an answer": (
        [(CATALOGUE, "    sources: {default: common-practice, ", "    §sources: {")],
        "no source for drive",
    ),
    "no direction": (
        [
            (CATALOGUE, "- id: cassette-12-spline\n", "- id: §cassette-12-spline\n"),
            (CATALOGUE, "    direction: anticlockwise\n", ""),
        ],
        "must say its direction",
    ),
    "no cautions": (
        [
            (CATALOGUE, "- id: cassette-12-spline\n", "- id: §cassette-12-spline\n"),
            (
                CATALOGUE,
                "    cautions: [tool-slips, teeth-cut, wrong-lockring-tool, check-before-riding]",
                "    cautions: []",
            ),
        ],
        "must say its cautions",
    ),
    "no advice": (
        [
            (CATALOGUE, "- id: unlisted", "- id: §unlisted"),
            (CATALOGUE, "    broad: true\n    advice: [leave-to-shop]\n", "    broad: true\n"),
        ],
        "must say its advice",
    ),
    "caution from memory": (
        [
            (
                CATALOGUE,
                "signal: warning, step: prepare, source: common-practice",
                "signal: warning, step: prepare, source: §memory",
            )
        ],
        "memory cannot be the only source of a warning",
    ),
    "caution for nothing": (
        [
            (CATALOGUE, "\ncautions:\n", "\ncautions:\n  - {id: §rain, signal: notice, step: refit, source: memory}\n"),
            (TEXT, "topic-name", "caution-rain = Rain\ntopic-name"),
        ],
        "nothing uses it",
    ),
    "remover for nothing": (
        [
            (CATALOGUE, "\nremovers:\n", "\nremovers:\n  - {id: §hammer, source: memory}\n"),
            (TEXT, "topic-name", "remover-hammer = Hammer\ntopic-name"),
        ],
        "nothing uses it",
    ),
    "accessory for nothing": (
        [
            (CATALOGUE, "\naccessories:\n", "\naccessories:\n  - {id: §tea, source: memory}\n"),
            (TEXT, "topic-name", "accessory-tea = Tea\ntopic-name"),
        ],
        "nothing uses it",
    ),
    "guard for nothing": (
        [(FLOW, "\nguards:\n", "\nguards:\n  §bored: {mentioned: [hub]}\n")],
        "no transition uses it",
    ),
}

MACHINE: dict[str, tuple[list[Edit], str]] = {
    "state out of reach": (also(states="{id: §attic}"), "no way leads here from 'begin'"),
    "state without a way out": (
        [*NOT_EVERY, *also(states="{id: §attic}", transitions="{trigger: doubt, source: [begin], to: attic}")],
        "no way leads out",
    ),
    "state that only a dead guard leaves": (
        [
            *NOT_EVERY,
            *also(
                states="{id: §attic}",
                guards="dead: {answered: {hub: []}}",
                transitions="{trigger: doubt, source: [begin], to: attic}"
                "|{trigger: doubt, source: [attic], to: begin, guards: [dead]}",
            ),
        ],
        "no way leads out",
    ),
    "a circle without an end": (
        [
            *NOT_EVERY,
            *also(
                states="{id: §attic}|{id: cellar}",
                transitions="{trigger: doubt, source: [begin], to: attic}"
                "|{trigger: doubt, source: [attic], to: cellar}|{trigger: doubt, source: [cellar], to: attic}",
            ),
        ],
        "the conversation never ends",
    ),
    "stop does not work everywhere": (
        [(FLOW, "trigger: stop, source: [begin, ", "trigger: stop, source: §[")],
        "not in begin",
    ),
    "no transition for a trigger": (
        [
            (FLOW, f"  - {{trigger: doubt, source: {ALL_STATES}, to: confirm}}\n", ""),
            (FLOW, "\ntransitions:", "\n§transitions:"),
        ],
        "no transition for 'doubt'",
    ),
    "no state for an outcome": (
        [(FLOW, ", outcome: look-alike}", "}"), (FLOW, "\nstates:", "\n§states:")],
        "the outcome 'look-alike'",
    ),
    "guard that denies all": (
        also(
            guards="§dead: {answered: {hub: [plain]}, not-answered: {hub: [plain]}}",
            transitions="{trigger: doubt, source: [begin], to: confirm, guards: [dead]}",
        ),
        "can never hold: no answer to 'hub'",
    ),
    "guard that allows nothing": (
        also(
            guards="§dead: {answered: {hub: []}}",
            transitions="{trigger: doubt, source: [begin], to: confirm, guards: [dead]}",
        ),
        "can never hold",
    ),
    "guard that says nothing": (
        also(guards="§idle: {}", transitions="{trigger: doubt, source: [begin], to: confirm, guards: [idle]}"),
        "it says nothing",
    ),
    "guards that exclude each other": (
        also(
            guards="one: {answered: {hub: [plain]}}|other: {answered: {hub: [geared]}}",
            transitions="{trigger: doubt, source: [begin], to: confirm, guards: §[one, other]}",
        ),
        "can never hold together",
    ),
    "question without a state": (
        [(FLOW, "- id: hub\n", "- id: §hub\n"), (FLOW, "{id: ask-hub, question: hub}", "{id: ask-hub}")],
        "no state asks",
    ),
    "question without a transition": (
        [
            (FLOW, "- id: hub\n", "- id: §hub\n"),
            (FLOW, f"  - {{trigger: ask, source: {ALL_STATES}, to: ask-hub}}\n", ""),
        ],
        "no 'ask' transition",
    ),
    "question asked in two states": (
        [(FLOW, "{id: confirm}", "{id: confirm}\n  - {id: ask-hub-too, question: §hub}")],
        "another state asks",
    ),
    "question that waits for itself": (
        [
            (FLOW, "- id: hub\n", "- id: §hub\n"),
            (FLOW, "to: ask-hub}", "to: ask-hub, guards: [known]}"),
            *also(guards="known: {answered: {hub: [plain]}}"),
        ],
        "can never be asked",
    ),
}

#: The rows of the look-alikes.
COMMON_AND_DEEP = (
    "  - {fastenings: [cassette-12-spline, cassette-12-spline-deep], check: body, "
    "by-hand: lockring-tool, harmless: true}\n"
)
USUAL_AND_ODD = (
    "  - {fastenings: [freewheel-12-spline, freewheel-12-spline-odd], check: freewheel-tool, by-hand: freewheel-tool}\n"
)

APART: dict[str, tuple[list[Edit], str]] = {
    "two that nothing tells apart": (
        [
            (CATALOGUE, COMMON_AND_DEEP, ""),
            (
                CATALOGUE,
                "body: {eight-deep: 0.97, other-splines: 0.03}",
                "body: {nine-one-narrow: 0.97, other-splines: 0.03}",
            ),
            (CATALOGUE, "- id: cassette-12-spline-deep\n", "- id: §cassette-12-spline-deep\n"),
        ],
        "no question tells it from 'cassette-12-spline'",
    ),
    "sizes that a rule cannot tell apart": (
        [
            (CATALOGUE, "size: {mm: 32.0, tolerance: 0.8}", "size: {mm: 38.1, tolerance: 0.8}"),
            (CATALOGUE, "- id: freewheel-4-notch-40\n", "- id: §freewheel-4-notch-40\n"),
        ],
        "no question tells it from 'freewheel-4-notch-32'",
    ),
    "told apart only by the shop's own words and by a tool": (
        [
            (CATALOGUE, USUAL_AND_ODD, ""),
            (CATALOGUE, "- id: freewheel-12-spline-odd\n", "- id: §freewheel-12-spline-odd\n"),
        ],
        "no question tells it from 'freewheel-12-spline'",
    ),
    "a check that separates nothing": (
        [(CATALOGUE, "check: body", "check: §spin")],
        "does not tell 'cassette-12-spline' from",
    ),
    "look-alikes with one remover": (
        [
            (
                CATALOGUE,
                "[cassette-12-spline, cassette-12-spline-deep]",
                "§[cassette-12-spline, cassette-threaded-driver]",
            )
        ],
        "both need the same remover",
    ),
    "look-alikes twice": (
        [
            (
                CATALOGUE,
                COMMON_AND_DEEP,
                COMMON_AND_DEEP + "  - {fastenings: §[cassette-12-spline-deep, cassette-12-spline], check: body}\n",
            )
        ],
        "declared twice",
    ),
    "a fastening that no truthful answers lead to": (
        [
            (CATALOGUE, "- id: freewheel-4-notch-32\n", "- id: §freewheel-4-notch-32\n"),
            (CATALOGUE, "size: {mm: 40.0, tolerance: 0.9}", "size: {mm: 32.0, tolerance: 0.8}"),
        ],
        "no truthful answers lead to",
    ),
}

ALL = {
    f"{group}: {name}": case
    for group, cases in (
        ("shape", SHAPE),
        ("reference", REFERENCES),
        ("loose end", LOOSE_ENDS),
        ("machine", MACHINE),
        ("apart", APART),
        ("wording", WORDING),
    )
    for name, case in cases.items()
}


@pytest.fixture(scope="module", autouse=True)
def _read_once() -> Iterator[None]:
    """To read the texts takes most of a check, and few edits change them: what was read without a fault is kept."""
    kept: dict[bytes, dict[str, wording.Text]] = {}

    def remembered(file: Path, problems: list[Problem]) -> dict[str, wording.Text]:
        written, own = file.read_bytes(), list[Problem]()
        if written in kept:
            return kept[written].copy()
        found = read_texts(file, own)
        if not own:
            kept[written] = found.copy()
        problems += own
        return found

    read_texts = wording.read_texts
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wording, "read_texts", remembered)
        yield


def test_the_copy_has_no_faults_before_it_is_spoilt(bench: Bench) -> None:
    assert bench.problems() == ()


@pytest.mark.parametrize("name", ALL)
def test_a_fault_is_told_with_its_place(bench: Bench, name: str) -> None:
    """And a topic whose shape or references are at fault does not load."""
    edits, words = ALL[name]
    file, line, column = bench.edit(*edits)
    assert file, "an edit must mark the place"
    told = bench.problems()
    assert any((p.file, p.line, p.column) == (file, line, column) and words in p.message for p in told), "\n".join(
        [f"wanted {file}:{line}:{column}: … {words}", *map(str, told)]
    )
    if name.startswith(("shape: ", "reference: ")):
        with pytest.raises(DataError) as caught:
            load_topic(bench.topic)
        assert set(caught.value.problems) <= set(told)


def test_all_problems_are_told_at_once(bench: Bench) -> None:
    wanted = [
        bench.edit((CATALOGUE, "handle-mm: 300", "handle-mm: §-1")),
        bench.edit((CATALOGUE, "system: cassette", "system: §Cassette")),
        bench.edit((FLOW, "most: 48", "most: §many")),
        bench.edit((SOURCES, "kind: memory", "kind: §dream")),
        bench.edit((GAUGES, "mm: 19.75", "mm: §0")),
    ]
    with pytest.raises(DataError) as caught:
        load_topic(bench.topic)
    assert sorted((p.file, p.line, p.column) for p in caught.value.problems) == sorted(wanted)


def test_a_missing_text_names_the_entry_that_asks_for_it(bench: Bench) -> None:
    bench.edit((TEXT, "topic-purpose = some words\n", ""))
    (problem,) = bench.problems()
    assert str(problem).startswith(f"{bench.texts('en')}:0:0: there is no text 'topic-purpose', which flow.yaml:")


def test_languages_are_held_against_each_other(bench: Bench) -> None:
    english = bench.texts("en").read_text(encoding="utf-8")
    german = english.replace("topic-name = some words", "topic-name = -").replace("some words", "einige Worte")
    lines = german.splitlines()
    lines = [line for line in lines if not line.startswith("topic-purpose")]
    at = next(number for number, line in enumerate(lines) if ".said" in line and "$value" in line)
    lines[at] = lines[at].replace("{ $value }", "ohne")
    bench.texts("de").write_text("\n".join(lines) + "\n", encoding="utf-8")
    program = bench.texts("de", lambda b: b.program)
    program.write_text("help = Hilfe\nagain = wieder { $mal }\nmehr = mehr\n", encoding="utf-8")
    told = [str(problem) for problem in bench.problems()]
    de = bench.texts("de")
    assert any(row.startswith(f"{de}:0:0: there is no text 'topic-purpose', which en.ftl has") for row in told)
    assert any(
        row.startswith(f"{de}:{at + 1}:") and "uses the variables none; en.ftl uses $value" in row for row in told
    )
    assert f"{program}:2:1: again: uses the variables $mal; en.ftl uses $times" in told
    assert f"{program}:3:1: mehr: en.ftl has no such text" in told


def test_a_language_that_the_program_does_not_speak(bench: Bench) -> None:
    bench.texts("fr").write_bytes(bench.texts("en").read_bytes())
    (problem,) = bench.problems()
    assert str(problem) == f"{bench.program / 'text'}:0:0: the program has no words of its own in 'fr'"


def test_a_topic_without_texts(bench: Bench) -> None:
    bench.texts("en").unlink()
    (problem,) = bench.problems()
    assert "there are no texts" in problem.message


def test_a_folder_that_is_no_topic(tmp_path: Path) -> None:
    told = check_topic(tmp_path / "nowhere")
    assert [Path(problem.file).name for problem in told] == sorted([CATALOGUE, FLOW, GAUGES, SOURCES])
    assert all("cannot be read" in problem.message for problem in told)


def test_the_topic_that_ships_is_whole() -> None:
    assert [str(problem) for problem in check_topic(built_in_topic())] == []


@given(
    at=st.integers(0, 20_000),
    cut=st.integers(0, 40),
    new=st.sampled_from(["{", "}", "$", "=", "\n", ".", "-", "{ a }"]),
)
@settings(max_examples=effort(10, 2000))
def test_no_mangled_text_file_stops_the_check(spoilable: Bench, at: int, cut: int, new: str) -> None:
    path = spoilable.texts("en")
    good = path.read_text(encoding="utf-8")
    at %= len(good)
    try:
        path.write_text(good[:at] + new + good[at + cut :], encoding="utf-8")
        for problem in spoilable.problems():
            assert problem.file == str(path)
    finally:
        path.write_text(good, encoding="utf-8")
