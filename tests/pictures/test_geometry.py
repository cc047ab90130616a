"""Outlines: what has a published value agrees with it, and what is counted in a drawing is what was asked for."""

from math import hypot, pi, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pictures.pixels import look_at, runs
from triagebot.pictures import geometry, png
from triagebot.pictures.geometry import (
    Fitting,
    axle_inside,
    chord,
    eight_deep,
    nine_with_one_narrow,
    notched,
    notched_outside,
    pitch_diameter,
    splined,
    sprocket,
    sprocket_round,
)
from triagebot.pictures.sheet import Sheet

MAKERS = {"splined": splined, "notched": notched, "notched_outside": notched_outside}


def coloured(outline: str, across: float) -> tuple[object, tuple[float, float]]:
    """An outline drawn alone in colour, 700 pixels wide, and its centre."""
    sheet = Sheet("one", across + 8)
    centre = (sheet.width / 2, sheet.width / 2)
    sheet.pointed_out(centre, outline)
    picture = sheet.picture(sheet.width, "one", "one")
    return look_at(png(picture, 700), picture), centre


def test_the_pitch_diameter_is_that_of_the_gear_table() -> None:
    """Gear tables give p/sin(180°/z): 138.23 mm for 17 teeth of 25.4 mm."""
    assert pitch_diameter(17, 25.4) == pytest.approx(138.23, abs=0.005)


@pytest.mark.parametrize("teeth", [9, 10, 11, 17, 28])
def test_the_pins_of_a_chain_lie_one_pitch_apart_round_a_sprocket(teeth: int) -> None:
    """ISO 9633: 12.7 mm; the chord between neighbouring pins on the pitch circle."""
    assert pitch_diameter(teeth) * sin(pi / teeth) == pytest.approx(12.7)


@pytest.mark.parametrize("teeth", [9, 11, 12, 17, 32])
def test_a_sprocket_shows_as_many_teeth_as_it_has(teeth: int) -> None:
    pixels, centre = coloured(sprocket(teeth), geometry.tip_diameter(teeth))
    assert runs(pixels.round_about(centre, pitch_diameter(teeth) + 1.5)) == teeth


@given(st.floats(10, 120))
def test_the_sprocket_round_a_ring_clears_it_and_is_the_smallest_that_does(diameter: float) -> None:
    teeth = sprocket_round(diameter)
    assert geometry.root_diameter(teeth) >= diameter
    assert teeth == 11 or geometry.root_diameter(teeth - 1) < diameter


@pytest.mark.parametrize("count", [1, 2, 3, 7, 12, 23, 48])
@pytest.mark.parametrize("maker", MAKERS)
def test_a_fitting_shows_as_many_as_were_asked_for(maker: str, count: int) -> None:
    fitting: Fitting = MAKERS[maker](count, 30.0)
    assert len(fitting.marks) == count
    body = fitting.recesses or fitting.body
    pixels, centre = coloured(body, fitting.outer)
    depth = {"splined": (fitting.across + fitting.inner) / 2, "notched": (fitting.outer + fitting.inner) / 2}
    seen = pixels.round_about(centre, depth.get(maker, fitting.across - 0.6))
    assert runs(seen) == count


def test_one_of_nine_splines_on_a_hub_body_is_narrower_and_eight_are_deep_and_alike() -> None:
    nine, eight = nine_with_one_narrow(), eight_deep()
    widths = sorted(step.half_tip for step in nine.splines)
    assert len(widths) == 9
    assert widths[0] < 0.6 * widths[1]
    assert widths[1] == widths[-1]
    assert len({step.half_tip for step in eight.splines}) == 1
    assert eight.outer - eight.inner > 2 * (nine.outer - nine.inner)
    for body, count in ((nine, 9), (eight, 8)):
        pixels, centre = coloured(body.outline, body.outer)
        seen = pixels.round_about(centre, (body.outer + body.inner) / 2)
        assert runs(seen) == count
    pixels, centre = coloured(nine.outline, nine.outer)
    seen = pixels.round_about(centre, (nine.outer + nine.inner) / 2)
    turned = np.roll(seen, 200)  # so that the narrow spline at the top does not lie across the ends of the row
    edges = np.flatnonzero(turned[1:] != turned[:-1])
    lengths = (edges[1::2] - edges[::2]).tolist()
    assert lengths.index(min(lengths)) == 0
    assert min(lengths) < 0.65 * sorted(lengths)[1]


@given(st.floats(3, 60), st.floats(0, 40))
def test_a_line_off_to_one_side_reads_short(diameter: float, offset: float) -> None:
    length = chord(diameter, offset)
    assert 0 <= length <= diameter
    if offset <= diameter / 2:
        assert hypot(length / 2, offset) == pytest.approx(diameter / 2)


def test_an_off_centre_chord_of_a_23_mm_circle_reads_0_350_short() -> None:
    """Computed: 23 − 2·√(11.5² − 2²)."""
    assert 23 - chord(23, 2) == pytest.approx(0.350, abs=0.0005)


@given(st.floats(5, 200))
def test_the_locknut_never_touches_the_fitting_round_it(inner: float) -> None:
    axle = axle_inside(inner)
    assert axle.bore < axle.across < axle.locknut < axle.corners < inner


@given(st.floats(-1e4, 1e4))
def test_lengths_are_written_to_a_thousandth_without_idle_zeros(value: float) -> None:
    text = geometry.number(value)
    assert float(text) == pytest.approx(value, abs=0.00051)
    assert "e" not in text
    assert text != "-0"
    assert not ("." in text and text.endswith("0"))
