"""Rendered at 300 dpi and measured: within 0.1 mm over 100 mm, and every outline within 0.1 mm."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.pictures.conftest import SUBJECT, Described
from tests.pictures.pixels import Pixels, look_at
from tests.strategies import rear_sprockets
from triagebot.pictures import Picture, number, on_paper, png, true_outline
from triagebot.pictures.looks import fitting_of, look_of
from triagebot.pictures.render import WIDEST
from triagebot.topics import Topic

DPI = 300
#: Room round an outline, mm.
ROOM = 4.0
SIZED = [name for name, row in rear_sprockets().fastenings.items() if look_of(row).sizes]


def drawn(path: str, side: float) -> Picture:
    """Path data on paper, as thin lines round the middle of a square, mm."""
    middle = number(side / 2)
    body = f'<path transform="translate({middle} {middle})" d="{path}" fill="none" stroke="#000" stroke-width="0.12"/>'
    return on_paper("one", side, side, "one", "one", body)


def at_300(picture: Picture) -> Pixels:
    """Rendered for 300 dots an inch, and measured by the dots alone: 300/25.4 to the mm, whatever the SVG says."""
    seen = look_at(png(picture, round(picture.width_mm / 25.4 * DPI)), picture)
    return Pixels(seen.values, DPI / 25.4)


def test_a_bar_of_100_mm_is_100_mm_long() -> None:
    pixels = at_300(on_paper("one", 108, 20, "one", "one", '<rect x="4" y="4" width="100" height="2"/>'))
    row = pixels.values[round(5 * pixels.scale), :, 0]
    inked = (255 - row) / (255 - row.min())
    assert np.sum(inked) / pixels.scale == pytest.approx(100.0, abs=0.1)


@pytest.mark.parametrize("name", SIZED)
def test_every_outline_is_as_wide_as_the_catalogue_says(topic: Topic, name: str) -> None:
    assert measured(topic, name) == pytest.approx(look_of(topic.fastenings[name]).across, abs=0.1)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(["splines", "notches", "outer-notches"]), st.integers(2, 48), st.floats(15, 60))
def test_outlines_of_any_catalogue_are_as_wide(described: Described, fitting: str, count: int, across: float) -> None:
    topic = described(fitting=fitting, count=str(count), size={"mm": across})
    assert measured(topic, SUBJECT) == pytest.approx(across, abs=0.1)


def measured(topic: Topic, name: str) -> float:
    """The diameter in mm, from the middle of the line between two splines or notches, as a calliper would be laid.

    Splines are measured from inside outwards (the first line met is the bottom of a groove), notches from outside.
    """
    look = look_of(topic.fastenings[name])
    fitting = fitting_of(look)
    side = fitting.outer + 2 * ROOM
    pixels = at_300(drawn(true_outline(topic.fastenings[name]), side))
    angle = np.pi / look.count
    inwards = look.kind != "splines"
    radii = np.arange(fitting.inner / 2 - 1, fitting.outer / 2 + 1, 0.005)
    radii = radii[::-1] if inwards else radii
    x = side / 2 + radii * np.sin(angle)
    y = side / 2 - radii * np.cos(angle)
    dark = pixels.darkness(x, y)
    first = int(np.argmax(dark > 0.25))
    line = slice(max(0, first - 60), first + 60)
    return 2 * float(np.average(radii[line], weights=dark[line] ** 2))


def test_the_width_in_pixels_is_the_one_asked_for() -> None:
    picture = drawn("M0 0 L5 5", 50)
    assert look_at(png(picture, 640), picture).values.shape[1] == 640
    assert look_at(png(picture), picture).values.shape[1] == 1000


@pytest.mark.parametrize("width", [0, -5, WIDEST + 1])
def test_a_width_out_of_range_is_refused(width: int) -> None:
    with pytest.raises(ValueError, match="pixels wide"):
        png(drawn("M0 0 L5 5", 50), width)


def test_there_is_no_outline_without_a_size(topic: Topic) -> None:
    with pytest.raises(ValueError, match="no size"):
        true_outline(topic.fastenings["snap-ring-sprocket"])
