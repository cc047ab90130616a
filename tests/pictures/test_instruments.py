"""A calliper is open by its reading, and a rule's marks are its mm."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.pictures.instruments import BEAM, FOOT, LARGE_JAW, SMALL_JAW, calliper, rule

Points = list[tuple[float, float]]


def points(outline: str) -> Points:
    assert re.fullmatch(r"M[-\d. L]+Z", outline)
    return [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", outline)]


@given(st.floats(10, 80))
def test_large_jaws_stand_apart_and_small_ones_reach_out_by_the_reading(reading: float) -> None:
    """Large ones measure between their inner faces, small ones over their outer ones."""
    made = calliper(reading)
    fixed, slide = points(made.fixed), points(made.slide)
    foot, top = BEAM + LARGE_JAW, -SMALL_JAW

    def at(outline: Points, height: float) -> list[float]:
        return [x for x, y in outline if y == pytest.approx(height)]

    assert min(at(slide, foot)) - max(at(fixed, foot)) == pytest.approx(reading, abs=0.002)
    assert max(at(slide, top)) - min(at(fixed, top)) == pytest.approx(reading, abs=0.002)
    assert made.left == pytest.approx(min(x for x, _ in fixed), abs=0.002)
    assert made.right == pytest.approx(max(x for x, _ in fixed), abs=0.002)


@given(st.floats(10, 80))
def test_the_small_jaws_stand_clear_of_each_other(reading: float) -> None:
    made = calliper(reading)
    right_of_the_fixed = max(x for x, y in points(made.fixed) if y < -1)
    left_of_the_slide = min(x for x, y in points(made.slide) if y < -1)
    assert right_of_the_fixed == pytest.approx(FOOT)
    assert left_of_the_slide - right_of_the_fixed > 1


def test_a_calliper_that_is_nearly_shut_is_not_drawn() -> None:
    with pytest.raises(ValueError, match="at least"):
        calliper(9.9)


@pytest.mark.parametrize(("length", "scale"), [(30, 1.0), (30, 1.5), (100, 0.7)])
def test_a_rule_has_a_mark_every_mm_and_a_number_every_ten(length: int, scale: float) -> None:
    made = rule(length, scale, 10.0)
    marks = [(float(x), float(tall)) for x, tall in re.findall(r"M([-\d.]+) 0 v([-\d.]+)", made.marks)]
    assert [x for x, _ in marks] == pytest.approx([place * scale for place in range(length + 1)], abs=0.001)
    tallest = max(tall for _, tall in marks)
    tens = [x for x, tall in marks if tall == tallest]
    assert tens == pytest.approx([x for x, _ in made.numbers], abs=0.001)
    assert [text for _, text in made.numbers] == [str(place) for place in range(0, length + 1, 10)]
    assert made.left < 0 < length * scale < made.right
