"""Lines of what somebody at the bench sees: words of the bench, bare numbers, what goes on and what begins anew."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide
from triagebot.conversation import plain
from triagebot.conversation.wording import number
from triagebot.counter.bench_answer import reply_to
from triagebot.counter.bench_line import Line, Seen, chosen, continued, in_full, line_json, line_of, read_line, settled
from triagebot.counter.words import staff_words
from triagebot.identify import ChoiceReading, CountReading, SizeReading, UnsureReading
from triagebot.testing import START

GUIDE = shipped_guide()


def told(text: str, question: str | None = None) -> dict[str, object]:
    """What a line says, by question: the choice, the number, the mm."""
    found: dict[str, object] = {}
    for fact in read_line(GUIDE, "en", text, question).facts:
        match fact.reading:
            case ChoiceReading(about, choice):
                found[about] = choice
            case CountReading(about, low, _):
                found[about] = low
            case SizeReading(about, mm, _, _):
                found[about] = mm
            case UnsureReading(about):
                found[about] = None
    return found


def outcome(text: str) -> tuple[str | None, str | None]:
    """The remover that a line leads to, or what is missing still."""
    seen = read_line(GUIDE, "en", text)
    line, step = settled(GUIDE, continued(Line(), seen))
    reply = reply_to(GUIDE, "en", line, step, seen, START)
    return reply.result.remover, line.question


@pytest.mark.parametrize(
    ("text", "remover"),
    [
        ("12 spl 23.4 stays", "remover-12-spline"),
        ("4n 40", "remover-4-notch-40"),
        ("4n40", "remover-4-notch-40"),
        ("4 notch 24-25", "remover-4-notch-24"),
        ("4N 32", "remover-4-notch-32"),
        ("20spl fw", "remover-20-spline"),
        ("2 prong 25", "remover-2-notch"),
        ("3 outer 40 turns coasts", "hook-spanner"),
        ("3 outer 40 fixed", "hook-spanner"),
        ("12 spl turns Tarvolden", "lockring-tool-12-spline"),
        ("12 spl 8 deep on the body 11 speed", "lockring-tool-12-spline-deep"),
        ("ss, circlip, smooth", "small-flat-screwdriver"),
    ],
)
def test_a_line_is_enough_for_the_remover(text: str, remover: str) -> None:
    assert outcome(text) == (remover, None)


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("12 spl", "spin"),
        ("4n", "size"),
        ("2 prong", "size"),
        ("12 spl 8 deep on the body", "sprockets"),
        ("3 outer 40 turns", "drive"),
        ("splines", "spin"),
    ],
)
def test_or_for_the_one_thing_that_is_missing(text: str, question: str) -> None:
    assert outcome(text) == (None, question)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("12 spl 23,4 stays", {"count": 12, "fitting": "splines", "size": 23.4, "spin": "stays"}),
        ("12 spl 23.4 mm stays", {"count": 12, "fitting": "splines", "size": 23.4, "spin": "stays"}),
        ("stays 23.4 12spl", {"count": 12, "fitting": "splines", "size": 23.4, "spin": "stays"}),
        ("12 splines, 23 mm, it turns", {"count": 12, "fitting": "splines", "size": 23.0, "spin": "turns"}),
        ("4n 1 inch", {"count": 4, "fitting": "notches", "size": 25.4}),
        ("4n 40 ss", {"count": 4, "fitting": "notches", "size": 40.0, "sprockets": 1}),
        ("4n 40 7 speed", {"count": 4, "fitting": "notches", "size": 40.0, "sprockets": 7}),
        ("12 fw", {"count": 12, "fitting": "splines", "spin": "stays"}),
        ("12 deep splines", {"count": 12, "fitting": "splines"}),
        ("4n ebike", {"count": 4, "fitting": "notches"}),
    ],
)
def test_what_a_line_says(text: str, found: dict[str, object]) -> None:
    assert told(text) == found


def test_a_number_that_is_neither_a_width_nor_a_count_is_left_out_and_said() -> None:
    seen = read_line(GUIDE, "en", "4n 59")
    assert "size" not in told("4n 59")
    assert seen.puzzle is not None
    assert seen.puzzle.text == "59"


def test_words_of_the_bench_leave_longer_words_alone() -> None:
    words = staff_words("en")
    assert in_full(words, "4 outer notches") == "4 outer notches"
    assert in_full(words, "4 outer") == "4 outer notches"
    assert in_full(words, "4n") == "4 notches"
    assert in_full(words, "nothing seen") == "nothing seen"
    assert in_full(words, "12x4") == "12x4"


def line_of_text(text: str) -> Line:
    return settled(GUIDE, continued(Line(), read_line(GUIDE, "en", text)))[0]


def go_on(line: Line, text: str) -> Line:
    return settled(GUIDE, continued(line, read_line(GUIDE, "en", text, line.question)))[0]


@pytest.mark.parametrize("answer", ["stays", "2", "it stays still", "the second one"])
def test_the_answer_to_what_is_missing_goes_on_with_the_line(answer: str) -> None:
    line = go_on(line_of_text("12 spl"), answer)
    assert {r.question: r for r in line.readings}["spin"] == ChoiceReading("spin", "stays")
    assert CountReading("count", 12, 12) in line.readings


@pytest.mark.parametrize("text", ["4n 40", "20 spl stays", "3 outer"])
def test_another_wheel_begins_anew(text: str) -> None:
    line = go_on(line_of_text("12 spl"), text)
    assert CountReading("count", 12, 12) not in line.readings


def test_a_person_who_does_not_know_is_asked_something_else() -> None:
    line = line_of_text("12 spl")
    asked = [line.question]
    while line.question is not None:
        line = go_on(line, "dunno")
        asked.append(line.question)
    assert len(asked) == len(set(asked)), "nothing is asked twice"
    assert len(asked) > 2


def test_a_press_answers_only_what_is_missing() -> None:
    line = line_of_text("12 spl")
    assert chosen(GUIDE, line, "stays") is not None
    assert chosen(GUIDE, line, "unsure") is not None
    assert chosen(GUIDE, line, "splines") is None
    assert chosen(GUIDE, Line(), "stays") is None


@given(
    st.lists(
        st.sampled_from(["12", "4n", "spl", "23,4", "stays", "turns", "outer", "40", "dunno", "?", "worn"]), max_size=6
    )
)
def test_any_line_has_an_answer_and_is_kept_as_it_is(parts: list[str]) -> None:
    seen = read_line(GUIDE, "en", " ".join(parts))
    line, step = settled(GUIDE, continued(Line(), seen))
    assert line_of(line_json(line, START)) == line
    reply = reply_to(GUIDE, "en", line, step, seen, START)
    assert plain(reply).strip()
    assert (reply.question is None) == (line.question is None)
    told_already = {fact.reading.question for fact in line.facts}
    assert line.question not in told_already


@given(st.text(max_size=300))
def test_nothing_that_is_written_fails(text: str) -> None:
    assert isinstance(read_line(GUIDE, "en", text), Seen)
    assert isinstance(read_line(GUIDE, "en", text, "spin"), Seen)


def test_what_was_kept_by_another_edition_is_nothing() -> None:
    assert line_of(None) == Line()
    assert line_of({"told": {"kind": "sang"}, "question": None, "number": 1}) == Line()


# --- the words of an answer ----------------------------------------------------------------------------------------


def said(text: str) -> str:
    seen = read_line(GUIDE, "en", text)
    line, step = settled(GUIDE, continued(Line(), seen))
    return plain(reply_to(GUIDE, "en", line, step, seen, START))


def test_the_gravest_caution_stands_before_the_tool_with_how_many_more_there_are() -> None:
    lines = said("4n 40").splitlines()
    tool = next(n for n, line in enumerate(lines) if line.startswith("Tool: "))
    signals = [n for n, line in enumerate(lines) if line.split(":")[0] in ("WARNING", "CAUTION", "NOTICE")]
    fastening = GUIDE.topic.fastenings["freewheel-4-notch-40"]
    assert [lines[n].split(":")[0] for n in signals] == ["WARNING"]
    assert max(signals) < tool
    assert f"{len(fastening.cautions) - 1} more cautions: “cautions”." in lines[:tool]
    assert lines[tool] == "Tool: “the big four”, wall A, peg 9. We have 2."


def test_every_remover_is_named_with_its_place_its_way_and_how_it_goes_back() -> None:
    for text in (
        "12 spl 23.4 stays",
        "4n 40",
        "12 spl turns Tarvolden",
        "3 outer 40 fixed",
        "ss, circlip, smooth",
    ):
        answer = said(text)
        assert "Tool: “" in answer
        assert any(word in answer for word in ("anticlockwise", "clockwise", "You don’t unscrew anything"))
        assert "Back on: " in answer
        assert "Note: " in answer


def test_a_torque_is_said_in_newton_metres() -> None:
    torque = GUIDE.topic.fastenings["cassette-12-spline"].refitting
    assert torque is not None
    assert torque.torque is not None
    written = number(GUIDE.language("en").texts, torque.torque)
    assert f"Back on: {written} N·m" in said("12 spl turns Tarvolden")


def test_a_left_hand_ring_is_told_to_turn_clockwise() -> None:
    assert "unscrews clockwise" in said("3 outer 40 fixed")


def test_what_is_worn_gets_no_tool() -> None:
    answer = said("4n 24 worn")
    assert answer.startswith("Stop: ")
    assert "Tool:" not in answer


def test_what_has_no_remover_says_so() -> None:
    answer = said("12 spl 20.0 stays 5 speed calliper")
    assert "You can’t buy a remover for it." in answer
    assert "Tool:" not in answer


def test_a_slip_of_the_point_is_asked_back() -> None:
    assert "“2.3”: do you mean it measures 23 mm?" in said("12 spl 2.3")


@pytest.mark.parametrize("text", ["4n 23.4 turns 8 deep body", "20 spl 40 turns 1 speed", "4n 20 turns 1 speed"])
def test_what_does_not_fit_together_is_said_and_not_asked_for_again(text: str) -> None:
    line = line_of_text(text)
    assert line.question not in {reading.question for reading in line.readings}
    while line.question is not None:
        line = go_on(line, "dunno")
    assert line.question is None


@pytest.mark.parametrize(
    ("text", "count", "left"),
    [("fw 12 23", 12, ""), ("12 23.4", 12, ""), ("fw 12 23.4 7 speed", 12, ""), ("12 20 23", None, "12 20")],
)
def test_no_number_beside_a_width_is_dropped_unsaid(text: str, count: int | None, left: str) -> None:
    seen = read_line(shipped_guide(), "en", text)
    counts = [
        f.reading.low for f in seen.facts if isinstance(f.reading, CountReading) and f.reading.question == "count"
    ]
    assert counts == ([] if count is None else [count])
    assert (seen.puzzle.text if seen.puzzle is not None else "") == left
