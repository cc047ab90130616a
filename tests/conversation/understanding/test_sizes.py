"""Lengths come out in mm, however they are written."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.conversation.understanding import Setting, understand
from triagebot.identify.readings import SizeReading

#: How a length in mm is written, and the worth in mm of the last place written.
WAYS: dict[str, tuple[Callable[[float], str], float]] = {
    "mm": (lambda mm: f"{mm:.1f} mm", 0.1),
    "mm, decimal comma": (lambda mm: f"{mm:.1f}".replace(".", ",") + "mm", 0.1),
    "cm": (lambda mm: f"it is {mm / 10:.2f} cm across", 0.1),
    "inches": (lambda mm: f"{mm / 25.4:.3f} inches", 0.0254),
    "inch marks": (lambda mm: f'{mm / 25.4:.3f}"', 0.0254),
    "radius": (lambda mm: f"radius {mm / 2:.2f} mm", 0.02),
    "string": (lambda mm: f"a string round it is {mm * math.pi:.1f} mm", 0.1 / math.pi),
}


@pytest.mark.parametrize("way", WAYS)
@given(mm=st.floats(11, 59))
def test_a_length_is_read_back_as_it_was_meant(way: str, mm: float, setting: Callable[..., Setting]) -> None:
    write, last_place = WAYS[way]
    (fact,) = understand(write(mm), setting("size")).facts
    assert isinstance(fact.reading, SizeReading)
    assert fact.reading.mm == pytest.approx(mm, abs=last_place / 2 + 0.001)


@pytest.mark.parametrize("sixteenths", range(8, 37))
def test_fractions_of_an_inch(sixteenths: int, setting: Callable[..., Setting]) -> None:
    # NIST SP 811: one inch is 25.4 mm exactly.
    whole, part = divmod(sixteenths, 16)
    text = f"{whole or ''} {f'{part}/16' if part else ''} inch"
    (fact,) = understand(text, setting("size")).facts
    assert isinstance(fact.reading, SizeReading)
    assert fact.reading.mm == pytest.approx(sixteenths * 25.4 / 16, abs=0.001)
