"""What a chosen outline is worth: its diameter, and an uncertainty that can be worked out by hand."""

from math import inf, nan, sqrt

import pytest

from triagebot.gauge import reading_from_outline, screen_outlines, size_reading
from triagebot.gauge.reading import EDGE, OutlineReading
from triagebot.identify import belief
from triagebot.topics import Texts, Topic


def test_by_hand(topic: Topic) -> None:
    """23.4 mm: two edges of ±0.35 mm give 0.286, 10 mm nearer at 300 mm 0.450, and a scale of 0.34 % 0.080."""
    reading = reading_from_outline(topic, "splines-12-23.4", 0.0034)
    assert (reading.question, reading.mm) == ("size", 23.4)
    assert reading.uncertainty_mm == pytest.approx(sqrt(0.2858**2 + 0.4503**2 + 0.0796**2), abs=1e-3)


def test_on_paper_with_a_hole_there_is_no_distance(topic: Topic) -> None:
    reading = reading_from_outline(topic, "splines-12-23.4", 0.0, gap_mm=0.0)
    assert reading.uncertainty_mm == pytest.approx(EDGE * sqrt(2 / 3))


def test_an_open_diameter_is_rectangular_between_its_lines(topic: Topic) -> None:
    reading = reading_from_outline(topic, "outer-notches-3-6-30-45", 0.0, gap_mm=0.0)
    assert reading.mm == 37.5
    assert reading.uncertainty_mm == pytest.approx(sqrt(15**2 / 12 + EDGE**2 * 2 / 3))


def test_a_worse_scale_and_a_larger_fitting_are_less_certain(topic: Topic) -> None:
    def of(name: str, scale: float) -> float:
        return reading_from_outline(topic, name, scale).uncertainty_mm

    assert of("notches-4-40", 0.01) > of("notches-4-32", 0.01) > of("notches-4-32", 0.001)


def test_every_outline_has_a_reading(topic: Topic, texts: Texts) -> None:
    for outline in screen_outlines(topic):
        assert reading_from_outline(topic, outline.id, 0.003).mm == outline.diameter_mm


@pytest.mark.parametrize("share", [-0.001, 1.0, nan, inf])
def test_an_impossible_scale_is_refused(topic: Topic, share: float) -> None:
    with pytest.raises(ValueError, match="share"):
        reading_from_outline(topic, "notches-4-32", share)


@pytest.mark.parametrize("gap", [-1.0, nan])
def test_an_impossible_gap_is_refused(topic: Topic, gap: float) -> None:
    with pytest.raises(ValueError, match="gap"):
        reading_from_outline(topic, "notches-4-32", 0.001, gap)


def test_an_unknown_outline_is_a_key_error(topic: Topic) -> None:
    with pytest.raises(KeyError):
        reading_from_outline(topic, "notches-5-32", 0.001)


def test_as_evidence_the_whole_uncertainty_is_kept(topic: Topic) -> None:
    evidence = size_reading(topic, OutlineReading("size", 40.0, 0.9), "calliper")
    assert (evidence.question, evidence.mm, evidence.means) == ("size", 40.0, "calliper")
    assert sqrt(0.2**2 + evidence.half_width**2 / 3) == pytest.approx(0.9, abs=1e-3)


def test_as_evidence_it_is_never_better_than_its_instrument(topic: Topic) -> None:
    assert size_reading(topic, OutlineReading("size", 40.0, 0.1), "calliper").half_width == 0


def test_chosen_outlines_tell_fastenings_apart(topic: Topic) -> None:
    """Of two notched fittings 8 mm apart the chosen one becomes far likelier."""
    reading = size_reading(topic, reading_from_outline(topic, "notches-4-32", 0.003), "gauge")
    chances = belief(topic.model, [reading])
    place = {name: index for index, name in enumerate(topic.model.fastenings)}
    odds = chances[place["freewheel-4-notch-32"]] / chances[place["freewheel-4-notch-40"]]
    assert odds > 10
