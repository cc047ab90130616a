"""The lesson in measuring: jaws lie where the widest reading is, and what is shown is what the words promise."""

import re

import pytest

from tests.pictures.pixels import written
from triagebot.pictures import question_picture
from triagebot.pictures.instruments import calliper
from triagebot.pictures.looks import fitting_of
from triagebot.pictures.measuring import ENLARGED, IN_HOLE, ROUND_RING, UNDER_RULE
from triagebot.topics import Texts, Topic

LINE = re.compile(r'd="M([\d.]+) ([\d.]+) H([\d.]+)"[^>]* stroke="#1a1a1a"')


@pytest.fixture(scope="module")
def svg(topic: Topic, texts: Texts) -> str:
    return question_picture(topic, "measure-across", texts).svg


def lines(svg: str, *, dashed: bool) -> list[tuple[float, float, float]]:
    """Level lines: from, height, to."""
    rows = [line for line in svg.splitlines() if ("stroke-dasharray" in line) == dashed]
    found = [match for row in rows if (match := LINE.search(row))]
    return [(float(match[1]), float(match[2]), float(match[3])) for match in found]


def place(svg: str, outline: str) -> tuple[float, float]:
    """Where an outline is drawn; it must be there once as what it is."""
    (found,) = {row for row in svg.splitlines() if f'd="{outline}"' in row}
    x, y = re.findall(r"translate\(([-\d.]+) ([-\d.]+)\)", found)[0]
    return float(x), float(y)


def test_both_callipers_are_open_by_what_they_measure_and_touch_it(svg: str) -> None:
    for look, first in ((IN_HOLE, 180 / IN_HOLE.count), (ROUND_RING, 0.0)):
        fitting, tool = fitting_of(look, first), calliper(look.across)
        middle, at = place(svg, fitting.body), place(svg, tool.slide)
        assert at == place(svg, tool.fixed)
        assert at[0] == pytest.approx(middle[0] - look.across / 2, abs=0.002)
        widths = [end - start for start, y, end in lines(svg, dashed=False) if y == pytest.approx(middle[1], abs=0.002)]
        assert look.across == pytest.approx(max(widths), abs=0.002), "a line goes through the middle, face to face"


def test_small_jaws_lie_in_grooves_and_large_ones_on_no_notch() -> None:
    """At three and nine o'clock. Of twelve splines the nearest is half a pitch away; of three notches none is near."""
    for look, first, least in ((IN_HOLE, 180 / IN_HOLE.count, 14.9), (ROUND_RING, 0.0, 25.0)):
        for side in (90.0, 270.0):
            away = [abs((mark - side + 180) % 360 - 180) for mark in fitting_of(look, first).marks]
            assert min(away) > least


def test_the_right_line_is_the_longest_and_the_wrong_one_dashed(svg: str) -> None:
    (wrong,) = lines(svg, dashed=True)
    right = max(lines(svg, dashed=False), key=lambda line: line[1])
    assert right[2] - right[0] == pytest.approx(UNDER_RULE.across * ENLARGED, abs=0.002)
    assert 0 < wrong[2] - wrong[0] < 0.8 * (right[2] - right[0])


def test_the_rule_reads_what_is_under_it(svg: str, topic: Topic, texts: Texts) -> None:
    boxes = written(question_picture(topic, "measure-across", texts))
    numbers = {int(box.text): (box.left + box.right) / 2 for box in boxes if box.text.isdigit()}
    assert set(numbers) == {0, 10, 20, 30}
    start, _, end = max(lines(svg, dashed=False), key=lambda line: line[1])
    mm = (numbers[30] - numbers[0]) / 30
    assert (start - numbers[0]) / mm == pytest.approx(0, abs=0.01)
    assert (end - numbers[0]) / mm == pytest.approx(UNDER_RULE.across, abs=0.01)


def test_both_panels_are_labelled(topic: Topic, texts: Texts) -> None:
    shown = " ".join(box.text for box in written(question_picture(topic, "measure-across", texts)))
    for part in ("calliper: take the widest", "in a hole", "round a ring", "ruler: lay", "right", "wrong"):
        assert part in shown
    for part in ("calliper", "small jaws", "large jaws", "not in a notch", "odd", "rule", "right", "wrong", "widest"):
        assert part in texts("picture-measure-across")
