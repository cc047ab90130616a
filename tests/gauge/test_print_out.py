"""The sheet rendered at 300 dots an inch and measured with no knowledge of how it was drawn: 0.1 mm over 100 mm.

What is measured is found in the picture: an outline is what hangs together, and what it should be stands under it.
"""

import re

import numpy as np
import pytest
from scipy.ndimage import label

from tests.gauge.conftest import printed, sheet_on
from tests.gauge.print_out import DOTS, Drawing, Line, PrintOut, from_pdf, lines_of_text
from tests.pictures.pixels import runs
from tests.strategies import rear_sprockets
from triagebot.gauge import PAPERS, Page, Paper, Sheet, gauge_pdf
from triagebot.gauge.page import Words

#: Diameter, mm, and number: from the catalogue's rows, as somebody would copy them out by hand.
FITTINGS = {
    (20.0, 12),
    *((22.5, 12), (22.8, 12), (23.0, 12), (23.4, 12)),
    (21.5, 20),
    *((25.0, 2), (24.0, 4), (32.0, 4), (40.0, 4)),
}
EUROS = [19.75, 22.25, 23.25, 24.25, 25.75]


def under(drawing: Drawing, lines: list[Line]) -> str:
    """What is written within 20 mm under a drawing."""
    x = drawing.middle[0]
    words = [line.text for line in lines if line.left < x < line.right and 0 < line.top - drawing.bottom < 20]
    return " ".join(words).replace("\N{NO-BREAK SPACE}", " ")


def test_the_paper_is_as_large_as_it_says(pages: tuple[PrintOut, ...], paper: Paper) -> None:
    for page in pages:
        assert page.size == pytest.approx(PAPERS[paper], abs=0.1)


def test_there_is_one_page_of_outlines_and_one_of_rulers(pages: tuple[PrintOut, ...]) -> None:
    assert len(pages) == 2


def test_the_bar_on_every_page_is_100_mm_long(pages: tuple[PrintOut, ...]) -> None:
    for page in pages:
        rows = page.dark.sum(axis=1) / DOTS
        thick = np.flatnonzero(rows > 95)
        assert 20 < len(thick) < 40, "about 2.5 mm thick, and nothing else is as dark"
        assert rows[thick[2:-2]] == pytest.approx(100.0, abs=0.1)


def test_the_bar_has_a_tick_at_every_10_mm(pages: tuple[PrintOut, ...]) -> None:
    for page in pages:
        (_top, *_, bottom) = np.flatnonzero(page.dark.sum(axis=1) / DOTS > 95)
        below = page.dark[bottom + 10]
        starts = np.flatnonzero((below > 0.2) & (np.roll(below, 1) <= 0.2))
        ticks = [np.average(np.arange(s - 2, s + 5), weights=below[s - 2 : s + 5]) / DOTS for s in starts]
        assert len(ticks) == 11
        assert np.diff(ticks) == pytest.approx(10.0, abs=0.05)
        assert ticks[-1] - ticks[0] == pytest.approx(100.0, abs=0.1)


def test_the_card_is_as_large_as_a_card(pages: tuple[PrintOut, ...]) -> None:
    (card,) = [drawing for drawing in pages[1].drawings() if drawing.wide > 80]
    x, y = card.middle

    def middle_of_line(along_x: bool, near: float) -> float:
        places = np.arange(near - 0.4, near + 0.4, 0.005)
        beside = card.page.at(places, y + 10) if along_x else card.page.at(x + 20, places)
        assert beside.max() > 0.3
        return float(np.average(places, weights=beside))

    left, right = middle_of_line(True, card.left), middle_of_line(True, card.right)
    top, bottom = middle_of_line(False, card.top), middle_of_line(False, card.bottom)
    assert right - left == pytest.approx(85.60, abs=0.1)
    assert bottom - top == pytest.approx(53.98, abs=0.1)
    for corner_x, corner_y, way in ((left, top, (1, 1)), (right, top, (-1, 1)), (left, bottom, (1, -1))):
        steps = np.arange(0, 2, 0.005)  # inwards at 45°: a corner of radius r cuts off r(√2 − 1)
        dark = card.page.at(corner_x + way[0] * steps / np.sqrt(2), corner_y + way[1] * steps / np.sqrt(2))
        radius = float(np.average(steps, weights=dark)) / (np.sqrt(2) - 1)
        assert radius == pytest.approx(3.18, abs=0.25)


@pytest.mark.parametrize("medium", ["pdf", "svg"])
def test_every_outline_is_as_wide_as_is_written_under_it(paper: Paper, pdf: bytes, medium: str) -> None:
    lines = lines_of_text(pdf, 0)
    found = set()
    circles = printed(paper, medium)[0].circles()
    for drawing in circles:
        words = under(drawing, lines)
        outside = "notches outside, " in words
        if outside and any(drawing.lies_in(other) for other in circles):
            continue  # the ring's hole, which the catalogue says nothing of
        across = drawing.across_the_teeth() if outside else drawing.across()
        if ranged := re.search(r"([\d.]+) to ([\d.]+) mm", words):
            low, high = map(float, ranged.groups())
            assert (low, high) == (30, 45)
            assert high == pytest.approx(across, abs=0.1) or low == pytest.approx(across, abs=0.1)
            continue
        size = re.search(r"(\d+) (splines|notches)(?: outside)?,? ([\d.]+) mm", words)
        assert size, words
        count, kind, mm = int(size[1]), size[2], float(size[3])
        assert across == pytest.approx(mm, abs=0.1)
        found.add((mm, count))
        # Between the tips and the bottoms of the grooves or notches, or through the slots: two lines for each.
        radius = mm / 2 - (0.8 if kind == "splines" else 2.0)
        assert runs(drawing.round_about(radius)) == 2 * count
    assert found == FITTINGS


def test_the_sizes_are_those_of_the_catalogue() -> None:
    sizes = {
        (row.answers["size"].mm, int(row.answers["count"]))
        for row in rear_sprockets().catalogue.fastenings
        if "size" in row.answers and row.answers["size"].mm
    }
    assert sizes == FITTINGS


def test_where_the_size_is_open_there_are_two_circles(pages: tuple[PrintOut, ...], pdf: bytes) -> None:
    lines = lines_of_text(pdf, 0)
    inner, outer = (drawing for drawing in pages[0].circles() if "between the lines" in under(drawing, lines))
    if inner.wide > outer.wide:
        inner, outer = outer, inner
    assert inner.across() == pytest.approx(30, abs=0.1)
    assert outer.across() == pytest.approx(45, abs=0.1)
    assert inner.middle == pytest.approx(outer.middle, abs=0.1)


def test_the_rings_to_count_by_have_as_many_ticks_as_they_say(pages: tuple[PrintOut, ...], pdf: bytes) -> None:
    lines = lines_of_text(pdf, 1)
    found = {}
    for drawing in pages[1].drawings():
        if words := re.search(r"(\d+) ticks", under(drawing, lines)):
            x = drawing.middle[0]
            # The hole is the widest white stretch from top to bottom through the middle.
            inked = np.flatnonzero(drawing.page.strip(x, drawing.top, x + 0.1, drawing.bottom).max(axis=1) > 0.2)
            at = int(np.argmax(np.diff(inked)))
            hole = (inked[at + 1] - inked[at]) / DOTS
            y = drawing.top + (inked[at] + inked[at + 1]) / 2 / DOTS
            turn = np.linspace(0, 2 * np.pi, 7200, endpoint=False)
            radius = hole / 2 + 2.5
            ticks, _ = label(drawing.page.at(x + radius * np.sin(turn), y - radius * np.cos(turn)) > 0.3)
            angles = [turn[ticks == tick].mean() for tick in range(2, ticks.max())]  # the first is at 0 and at 2π
            found[int(words[1])] = len(angles) + 1
            assert np.diff([0, *angles, 2 * np.pi]) == pytest.approx(2 * np.pi / int(words[1]), abs=0.01)
    assert found == {12: 12, 20: 20}


def test_every_coin_is_as_wide_as_it_is_and_says_so(pages: tuple[PrintOut, ...], pdf: bytes) -> None:
    lines = lines_of_text(pdf, 1)
    coins = sorted(pages[1].circles(), key=lambda drawing: drawing.bottom)[-5:]
    assert sorted(coin.across() for coin in coins) == pytest.approx(EUROS, abs=0.1)
    for coin in coins:
        said = re.search(r"([\d.]+) mm", under(coin, lines))
        assert said
        assert coin.across() == pytest.approx(float(said[1]), abs=0.1)


def test_the_corners_and_the_edges_stay_empty(pages: tuple[PrintOut, ...], paper: Paper) -> None:
    width, height = PAPERS[paper]
    for page in pages:
        for left, right in ((0, 29.9), (width - 29.9, width)):
            for top, bottom in ((0, 29.9), (height - 29.9, height)):
                assert page.strip(left, top, right, bottom).max() == 0
        for strip in ((0, 0, 9.8, height), (width - 9.8, 0, width, height), (0, 0, width, 9.8)):
            assert page.strip(*strip).max() == 0
        assert page.strip(0, height - 9.8, width, height).max() == 0


def without_words(sheet: Sheet) -> Sheet:
    pages = [
        Page(p.name, p.width, p.height, p.title, tuple(mark for mark in p.marks if not isinstance(mark, Words)))
        for p in sheet.pages
    ]
    return Sheet(sheet.title, sheet.language, sheet.paper, tuple(pages))


def test_no_word_touches_a_line_or_another_word(paper: Paper, pdf: bytes) -> None:
    for place, page in enumerate(from_pdf(gauge_pdf(without_words(sheet_on(paper))))):
        assert page.dark.max() > 0.9
        lines = lines_of_text(pdf, place)
        assert len(lines) > 20
        for line in lines:
            room = 0.3
            box = page.strip(line.left - room, line.top - room, line.right + room, line.bottom + room)
            assert box.max() == 0, line
            for other in lines:
                apart = (
                    line.right < other.left
                    or other.right < line.left
                    or line.bottom < other.top
                    or other.bottom < line.top
                )
                assert other is line or apart, (line, other)


def test_pictures_for_the_web_look_like_the_file(paper: Paper) -> None:
    for ours, theirs in zip(printed(paper, "pdf"), printed(paper, "svg"), strict=True):
        rows, columns = (min(a, b) for a, b in zip(ours.dark.shape, theirs.dark.shape, strict=True))
        coarse = []
        for page in (ours, theirs):
            dark = page.dark[: rows // 24 * 24, : columns // 24 * 24]
            coarse.append(dark.reshape(rows // 24, 24, columns // 24, 24).mean(axis=(1, 3)))
        assert np.abs(coarse[0] - coarse[1]).max() < 0.25
        assert np.abs(coarse[0] - coarse[1]).mean() < 0.005
