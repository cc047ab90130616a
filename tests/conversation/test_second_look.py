"""What does not fit what would be named: readings told to the built-in topic."""

import pytest

from tests.strategies import rear_sprockets
from triagebot.conversation.policy import NextStep, next_step
from triagebot.conversation.second_look import contradicted, outweighed, unlike
from triagebot.identify import ChoiceReading, CountReading, Decision, Reading, SizeReading, UnsureReading

TOPIC = rear_sprockets()
STAYS, TURNS = ChoiceReading("spin", "stays"), ChoiceReading("spin", "turns")
SPLINES, NOTCHES = ChoiceReading("fitting", "splines"), ChoiceReading("fitting", "notches")


def count(number: int) -> CountReading:
    return CountReading("count", number, number)


def mm(size: float) -> SizeReading:
    return SizeReading("size", size, means="calliper")


def naming(fastening: str) -> Decision:
    return Decision("answer", (TOPIC.model.remedy_of(fastening),), 0.0)


def told(*readings: Reading) -> NextStep:
    """How it ends where somebody tells this and knows nothing else."""
    said = list(readings)
    asked = dict.fromkeys((reading.question for reading in said), 1)
    while (step := next_step(TOPIC, said, asked)).question is not None:
        asked[step.question] = asked.get(step.question, 0) + 1
        said.append(UnsureReading(step.question))
    return step


@pytest.mark.parametrize(
    "seen",
    [
        pytest.param([SPLINES, STAYS, count(24), count(24), count(24), mm(23)], id="24 splines as wide as 12"),
        pytest.param([NOTCHES, STAYS, count(3), count(3), mm(25)], id="3 notches as wide as 2"),
        pytest.param([NOTCHES, STAYS, count(6), count(2)], id="6 notches, then 2"),
        pytest.param([SPLINES, TURNS, count(16), count(16), mm(23.4)], id="16 splines that turn"),
        pytest.param([NOTCHES, STAYS, count(8), count(8), mm(24)], id="8 notches as wide as 4"),
        pytest.param([SPLINES, STAYS, count(12), mm(58), mm(58)], id="58 mm"),
    ],
)
def test_a_count_said_twice_is_not_overruled_by_a_size(seen: list[Reading]) -> None:
    step = told(*seen)

    named = {TOPIC.model.remedies[place].remover for place in step.decision.remedies}
    assert step.decision.kind == "person" or (mm(58) in seen and "small-flat-screwdriver" not in named)


def test_a_count_put_right_twice_is_put_right() -> None:
    step = told(SPLINES, STAYS, count(24), count(20), count(20), mm(21.5), CountReading("sprockets", 6, 6))

    assert step.decision.kind == "answer"


def test_a_size_that_fits_settles_two_counts_that_differ() -> None:
    named = naming("freewheel-12-spline")

    assert contradicted(TOPIC, named, (SPLINES, STAYS, count(20), count(12), mm(23))) == ()
    assert contradicted(TOPIC, named, (SPLINES, STAYS, count(20), count(12))) == ("size", "count")
    assert contradicted(TOPIC, named, (SPLINES, STAYS, count(20), count(12), mm(35))) == ("count",)


def test_what_is_miscounted_now_and_then_is_no_contradiction() -> None:
    twelve, four = naming("freewheel-12-spline"), naming("freewheel-4-notch-40")

    assert contradicted(TOPIC, twelve, [count(11)]) == ()
    assert contradicted(TOPIC, twelve, [count(24)]) == ("count",)
    assert contradicted(TOPIC, four, [count(5)]) == ()
    assert "count" in contradicted(TOPIC, four, [count(6)])
    assert contradicted(TOPIC, naming("snap-ring-sprocket"), [count(9)]) == ()


def test_all_that_was_outweighed_is_found() -> None:
    readings: list[Reading] = [STAYS, SPLINES, count(24), count(12), count(12), mm(23), ChoiceReading("torque", "yes")]
    decision = naming("freewheel-12-spline")

    assert outweighed(TOPIC, decision, readings) == [count(24), ChoiceReading("torque", "yes")]
    assert outweighed(TOPIC, decision, [STAYS, SPLINES, count(12), mm(23)]) == []


@pytest.mark.parametrize("fastening", TOPIC.model.fastenings)
def test_whatever_is_named_can_be_looked_at_once_more(fastening: str) -> None:
    """The last of the remedies too."""
    readings: list[Reading] = [STAYS, TURNS, SPLINES, NOTCHES, count(1), mm(5)]
    assert set(unlike(TOPIC, fastening, readings)) >= set(outweighed(TOPIC, naming(fastening), readings))
    contradicted(TOPIC, naming(fastening), readings)


def test_what_is_unlike_one_fastening_may_be_like_another_that_no_remover_takes() -> None:
    told_of_it: list[Reading] = [STAYS, SPLINES, count(12), TURNS]
    assert unlike(TOPIC, "freewheel-12-spline-small", told_of_it) == [TURNS]
    assert outweighed(TOPIC, naming("freewheel-12-spline-small"), told_of_it) == []
