"""The gauge sheet: what stands on its pages, and where.

This file decides what the sheet tells and in which order, the sizes of its letters, and the sizes of what
it is checked with. Every page carries the bar, since every page can come out of the printer at another size.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import pi

from triagebot.errors import UsageError
from triagebot.gauge.coins import Coin
from triagebot.gauge.column import Cell, Column
from triagebot.gauge.outlines import Outline, screen_outlines
from triagebot.gauge.page import CORNER, MARGIN, PAPERS, THIN, Area, Line, Mark, Page, Paper, Words
from triagebot.gauge.page import rectangle as rectangle_path
from triagebot.gauge.reading import not_told_apart
from triagebot.pictures import circle, places, polar, polygon, spot
from triagebot.topics import Texts, Topic

#: A bank card, mm: width, height and the radius of its corners (ISO/IEC 7810, ID-1).
CARD = (85.60, 53.98, 3.18)
#: The bar that the printer is checked with, and how thick it is, mm.
BAR, BAR_HEIGHT = 100.0, 2.5

#: Heights of letters, mm: the title, headings, what is to be read, what stands under a drawing, numbers round a ring.
TITLE, HEADING, BODY, LABEL, TICK = 5.6, 4.2, 3.4, 3.1, 2.6

#: How much wider than the widest fitting of its number a ring to count by is, and how long its ticks are, mm.
CLEAR, TICK_LENGTH = 1.5, 5.0
#: Numbers round a ring stand at least so far apart, mm.
APART = 4.5


@dataclass(frozen=True, slots=True)
class Sheet:
    """A gauge sheet: its pages in order, what they are called, and the language of their words."""

    title: str
    language: str
    paper: Paper
    pages: tuple[Page, ...]


def gauge_sheet(topic: Topic, texts: Texts, paper: Paper = "A4", coins: Sequence[Coin] = ()) -> Sheet:
    """The sheet at 1:1. Outlines come first, then a card, rings to count by and the coins. Raises UsageError for an
    unknown paper, DataError for a text that is lacking."""
    if paper not in PAPERS:
        raise UsageError(f"there is no paper {paper!r}; there is: {', '.join(PAPERS)}")
    outlines = screen_outlines(topic)
    bodies = [("outlines", body) for body in _outlines(topic, paper, outlines, texts)]
    bodies += [("rulers", body) for body in _rulers(paper, outlines, coins, texts)]
    title = texts("gauge-title", topic=texts("topic-name"))
    width, height = PAPERS[paper]
    pages = []
    for place, (kind, body) in enumerate(bodies, 1):
        heading = texts(f"gauge-page-{kind}")
        counted = texts("gauge-page-of", page=place, pages=len(bodies), paper=texts(f"gauge-paper-{paper.lower()}"))
        marks = (*_head(paper, title, heading, counted), *body, *_foot(paper, texts))
        pages.append(Page(f"gauge-{place}", width, height, f"{title}: {heading}", marks))
    return Sheet(title, texts.language, paper, tuple(pages))


def card_outline() -> str:
    """The outline of a bank card as path data in mm, from its upper left corner, for paper and for a screen."""
    return rectangle_path(*CARD)


# --- pages ------------------------------------------------------------------------------------------------------------


def alike_in_words(topic: Topic, texts: Texts) -> tuple[str, ...]:
    """What neither paper nor a screen can tell apart, a line for each kind and number."""
    from babel import Locale
    from babel.lists import format_list

    lines = []
    for group in not_told_apart(topic):
        written = [texts("gauge-alike-size", size=outline.diameter_mm) for outline in group]
        sizes = format_list(written, locale=Locale.parse(texts("locale"), sep="-"))
        lines.append(
            texts("gauge-alike", sizes=sizes, what=texts(f"label-count-{group[0].kind}", count=group[0].count))
        )
    return tuple(lines)


def _outlines(topic: Topic, paper: Paper, outlines: Sequence[Outline], texts: Texts) -> tuple[tuple[Mark, ...], ...]:
    column = Column(paper)
    column.words(texts("gauge-steps"), BODY)
    for line in alike_in_words(topic, texts):
        column.words(line, BODY)
    column.space(5)
    column.cells([_outline(outline, texts) for outline in outlines])
    return column.pages()


def _outline(outline: Outline, texts: Texts) -> Cell:
    return Cell(outline.high_mm, outline.high_mm, (Line(outline.svg_path_mm),), outline.label(texts), LABEL)


def _rulers(
    paper: Paper, outlines: Sequence[Outline], coins: Sequence[Coin], texts: Texts
) -> tuple[tuple[Mark, ...], ...]:
    column = Column(paper)
    column.words(texts("gauge-card"), HEADING)
    width, height, _ = CARD
    card = Line(card_outline(), (-width / 2, -height / 2))
    inside = Words((0, 0.35 * LABEL), texts("gauge-card-size", width=width, height=height), LABEL, "middle")
    column.beside(Cell(width, height, (card, inside)), texts("gauge-card-use"), BODY)
    rings = tuple(_rings(outlines, texts))
    if rings:
        column.section(texts("gauge-count"), HEADING, texts("gauge-count-use"), BODY, rings)
    if coins:
        drawn = [_coin(coin, texts) for coin in coins]
        column.section(texts("gauge-coins"), HEADING, texts("gauge-coins-use"), BODY, drawn)
    return column.pages()


def _coin(coin: Coin, texts: Texts) -> Cell:
    label = texts("gauge-coin", coin=texts(f"gauge-coin-{coin.id}"), size=coin.mm)
    return Cell(coin.mm, coin.mm, (Line(circle(coin.mm)),), label, LABEL)


def _rings(outlines: Sequence[Outline], texts: Texts) -> Iterator[Cell]:
    """A ring of ticks for every number of splines there is, to be cut out and laid round the fitting."""
    widest: dict[int, float] = {}
    for outline in outlines:
        if outline.kind == "splines" and outline.count:
            widest[outline.count] = max(outline.high_mm, widest.get(outline.count, 0.0))
    for count in sorted(widest):
        hole = widest[count] + CLEAR
        near, far = hole / 2, hole / 2 + TICK_LENGTH
        numbers = far + 1.1 * TICK
        step = next(step for step in (1, 2, 5, count) if 2 * pi * numbers * step / count >= APART or step == count)
        marks: list[Mark] = [Line(circle(hole)), Area(_wedge(near, far))]
        for place, angle in enumerate(places(count)):
            if place:
                marks.append(Line(f"M{spot(polar(near, angle))} L{spot(polar(far, angle))}", weight=2 * THIN))
            if place % step == 0:
                x, y = polar(numbers, angle)
                marks.append(Words((x, y + 0.36 * TICK), str(place + 1), TICK, "middle"))
        across = 2 * (numbers + 0.7 * TICK)
        yield Cell(across, across, tuple(marks), texts("gauge-count-ring", count=count), LABEL)


def _wedge(near: float, far: float) -> str:
    """The first tick, where counting starts: a wedge that points at the fitting."""
    half = 0.3 * (far - near)
    return polygon([(0, -near), (-half, -far), (half, -far)])


# --- what every page carries ------------------------------------------------------------------------------------------


def _head(paper: Paper, title: str, heading: str, counted: str) -> tuple[Mark, ...]:
    middle = PAPERS[paper][0] / 2
    rows = ((title, TITLE), (heading, HEADING), (counted, LABEL))
    marks, y = [], MARGIN
    for text, em in rows:
        y += 1.25 * em
        marks.append(Words((middle, y), text, em, "middle"))
    return tuple(marks)


def _foot(paper: Paper, texts: Texts) -> Iterator[Mark]:
    """The bar, with a tick at every 10 mm, and what it is for."""
    width, height = PAPERS[paper]
    left, top = (width - BAR) / 2, height - MARGIN - CORNER + 2
    yield Area(rectangle_path(BAR, BAR_HEIGHT), (left, top))
    for place in range(int(BAR // 10) + 1):
        yield Line("M0 0 V2", (left + 10 * place, top + BAR_HEIGHT))
    yield Words((width / 2, top + BAR_HEIGHT + 3 + LABEL), texts("gauge-bar", size=BAR), LABEL, "middle")
