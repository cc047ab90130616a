"""The style sheet: contrast that can be read, and nothing fetched from elsewhere."""

import re
from pathlib import Path

import pytest

import triagebot.pages

SHEET = (Path(triagebot.pages.__file__).parent / "static" / "style.css").read_text(encoding="utf-8")
#: Every text colour and the grounds that it stands on.
PAIRS = [
    *(("ink", ground) for ground in ("ground", "card", "warm")),
    *(("soft", ground) for ground in ("ground", "card")),
    *(("link", ground) for ground in ("ground", "card", "warm")),
    *(("bar-ink", "bar"), ("disc-ink", "disc"), ("mark-ink", "mark")),
    *(("signal-ink", kind) for kind in ("warning", "caution")),
    ("notice-ink", "notice"),
]


def variables(scheme: str) -> dict[str, str]:
    light, dark = re.findall(r":root \{(.*?)\}", SHEET, re.DOTALL)[:2]
    found = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", light))
    return found | (dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", dark)) if scheme == "dark" else {})


def luminance(colour: str) -> float:
    """Relative luminance of sRGB, as WCAG 2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_reckoned_as_the_guideline_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), PAIRS)
def test_every_text_can_be_read(scheme: str, text: str, ground: str) -> None:
    colours = variables(scheme)
    assert contrast(colours[text], colours[ground]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_focus_and_the_edge_of_a_field_can_be_seen(scheme: str) -> None:
    colours = variables(scheme)
    for ground in ("ground", "card"):
        assert contrast(colours["focus"], colours[ground]) >= 3
        assert contrast(colours["soft"], colours[ground]) >= 3
    assert contrast("#ffd9a0", colours["bar"]) >= 3
    assert contrast("#ffffff", "#7a3c00") >= 4.5
    assert contrast("#ffffff", "#5c2d00") >= 4.5
    assert contrast("#3d362f", "#ffffff") >= 4.5


def test_the_sheet_fetches_nothing() -> None:
    assert "url(" not in SHEET
    assert "@import" not in SHEET
    assert "@font-face" not in SHEET
