"""Words are as wide as the renderer draws them, and break where they should."""

from io import BytesIO

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.pictures.widths import of_the_font
from triagebot.pictures import png
from triagebot.pictures.lettering import FONT, WIDTHS, advances, lines_of, not_in_font, width_of
from triagebot.pictures.sheet import Sheet

WORDS = st.lists(st.text(st.sampled_from("abmiw1"), min_size=1, max_size=9), min_size=1, max_size=12)


@pytest.mark.parametrize("text", ["HHHHHHHHHH", "HilliH", "HÄßłőžH", "HЖЦ 40H"])
def test_widths_are_those_that_are_drawn(text: str) -> None:
    """Between the stems of a letter H at each end, beside the same with the middle taken out."""
    widths = []
    for shown in (text, "HH"):
        sheet = Sheet("one", 100)
        sheet.words((5, 20), shown)
        drawn = np.asarray(Image.open(BytesIO(png(sheet.picture(30, "one", "one"), 2000))).convert("L"))
        dark = np.flatnonzero((drawn < 128).any(axis=0))
        widths.append((dark[-1] - dark[0]) / 20)
    em = Sheet("one", 100).em
    assert widths[0] - widths[1] == pytest.approx(width_of(text, em) - width_of("HH", em), abs=0.12)


@given(WORDS, st.floats(0.5, 20))
def test_lines_are_no_wider_than_asked_and_keep_every_word_in_order(words: list[str], width: float) -> None:
    lines = lines_of(" ".join(words), width, 1.0)
    assert " ".join(lines).replace("\N{NO-BREAK SPACE}", " ").split() == words
    for line in lines:
        assert width_of(line) <= width or " " not in line


def test_a_number_stays_with_its_unit() -> None:
    assert lines_of("freewheel, 2 notches, 25 mm", 6.0, 1.0)[-1] == "25\N{NO-BREAK SPACE}mm"


def test_the_font_has_what_european_languages_are_written_with_and_is_small() -> None:
    assert not_in_font("Größe Łódź façade ñandú čšž ßÆØ „“ ’ – ✓ ✗ × ° Ødegård Ελλάδα Україна Ђорђе") == ""
    assert not_in_font("軸 axle 軸受") == "軸受"
    assert len(advances()) > 500
    assert FONT.stat().st_size < 120_000


def test_the_widths_beside_the_font_are_those_of_the_font() -> None:
    assert WIDTHS.read_text(encoding="ascii") == of_the_font(), "python -m tests.pictures.widths"


def test_the_licence_lies_beside_the_font() -> None:
    licence = next(FONT.parent.glob("LICENCE*")).read_text(encoding="utf-8")
    assert "Permission is hereby granted, free of charge" in licence
