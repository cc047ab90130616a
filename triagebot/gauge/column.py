"""Words and drawings one under the other, over as many pages as they need.

This file decides how drawings share a row, and where a page ends. The strips beside the empty corners, at
the top and at the bottom, belong to what is written on every page.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from triagebot.gauge.page import CORNER, MARGIN, PAPERS, Mark, Paper, Words
from triagebot.pictures import Point, lines_of, width_of

#: From one base line to the next, in em.
LEADING = 1.3
#: Least room between drawings in a row, between a drawing and its label, and between what stands one under another.
GAP, UNDER, ROOM = 5.0, 1.5, 4.0
#: After a paragraph, in em.
AFTER = 0.4
#: A label under a drawing may be so wide, mm, where the drawing is narrower.
LABELLED = 26.0


@dataclass(frozen=True, slots=True)
class Cell:
    """A drawing round the origin, so wide and so high (mm), and the words under it."""

    wide: float
    high: float
    marks: tuple[Mark, ...]
    label: str = ""
    em: float = 1.0

    @property
    def lines(self) -> tuple[str, ...]:
        """The label as it stands under the drawing."""
        return lines_of(self.label, max(self.wide, LABELLED), self.em) if self.label else ()

    @property
    def width(self) -> float:
        """Of the drawing or of its label, whichever is wider."""
        return max([self.wide, *(width_of(line, self.em) for line in self.lines)])

    @property
    def under(self) -> float:
        """Height of the label with the room above it."""
        return UNDER + len(self.lines) * LEADING * self.em if self.label else 0.0


class Column:
    """The body of a run of pages, filled from the top. What does not fit any more starts a new page."""

    def __init__(self, paper: Paper) -> None:
        width, height = PAPERS[paper]
        self._left, self._right = MARGIN, width - MARGIN
        self._top, self._bottom = MARGIN + CORNER + 2, height - MARGIN - CORNER - 2
        self._y = self._top
        self._pages: list[list[Mark]] = [[]]

    @property
    def width(self) -> float:
        """From margin to margin, mm."""
        return self._right - self._left

    def pages(self) -> tuple[tuple[Mark, ...], ...]:
        """What was put on each page."""
        return tuple(tuple(marks) for marks in self._pages)

    def space(self, room: float) -> None:
        """Leaves so much room free, mm; none at the top of a page."""
        if self._y > self._top:
            self._y += room

    def words(self, text: str, em: float, with_it: float = 0.0) -> None:
        """A text from margin to margin, with a little room after each of its paragraphs (lines, as it is given). The
        last one stands on a page that has so much room for what belongs to it, mm."""
        paragraphs = text.splitlines()
        for place, paragraph in enumerate(paragraphs, 1):
            lines = lines_of(paragraph, self.width, em)
            height = (len(lines) * LEADING + AFTER) * em
            self._start(height + (with_it if place == len(paragraphs) else 0.0))
            self._write((self._left, self._y), lines, em)
            self._y += height

    def height_of(self, text: str, em: float) -> float:
        """Height that `words` takes up, mm."""
        return sum((len(lines_of(line, self.width, em)) * LEADING + AFTER) * em for line in text.splitlines())

    def beside(self, cell: Cell, text: str, em: float) -> None:
        """A drawing at the left margin and a text to the right of it."""
        lines = lines_of(text, self.width - cell.width - GAP, em)
        self._start(max(cell.high, len(lines) * LEADING * em) + ROOM)
        self._put(cell, (self._left + cell.width / 2, self._y + cell.high / 2))
        self._write((self._left + cell.width + GAP, self._y), lines, em)
        self._y += max(cell.high, len(lines) * LEADING * em) + 1.5 * ROOM

    def cells(self, cells: Sequence[Cell]) -> None:
        """Drawings in rows, as many in a row as fit, spread evenly, with their lower ends on one line."""
        for row in self._rows(cells):
            self._row(row)

    def section(self, heading: str, heading_em: float, text: str, em: float, cells: Sequence[Cell]) -> None:
        """A heading, a text and drawings; heading, text and first row stay on one page."""
        row = next(self._rows(cells))
        first = max(cell.high for cell in row) + max(cell.under for cell in row)
        self.words(heading, heading_em, self.height_of(text, em) + first)
        self.words(text, em, first)
        self.cells(cells)

    def _rows(self, cells: Sequence[Cell]) -> Iterator[list[Cell]]:
        row: list[Cell] = []
        for cell in cells:
            if row and sum(each.width for each in row) + cell.width + GAP * (len(row) + 2) > self.width:
                yield row
                row = []
            row.append(cell)
        if row:
            yield row

    def _row(self, row: Sequence[Cell]) -> None:
        tallest, under = max(cell.high for cell in row), max(cell.under for cell in row)
        self._start(tallest + under)
        gap = (self.width - sum(cell.width for cell in row)) / (len(row) + 1)
        x = self._left
        for cell in row:
            self._put(cell, (x + gap + cell.width / 2, self._y + tallest - cell.high / 2))
            x += gap + cell.width
        self._y += tallest + under + 1.5 * ROOM

    def _put(self, cell: Cell, at: Point) -> None:
        """A drawing with its middle at a point, and its label under it."""
        self._pages[-1] += [replace(mark, at=(at[0] + mark.at[0], at[1] + mark.at[1])) for mark in cell.marks]
        if cell.label:
            self._write((at[0], at[1] + cell.high / 2 + UNDER), cell.lines, cell.em, middle=True)

    def _write(self, at: Point, lines: Sequence[str], em: float, middle: bool = False) -> None:
        for place, line in enumerate(lines):
            y = at[1] + (place * LEADING + 1) * em
            self._pages[-1].append(Words((at[0], y), line, em, "middle" if middle else "start"))

    def _start(self, height: float) -> None:
        """A new page, if so much does not fit on this one and this one is not empty."""
        if self._y + height > self._bottom and self._y > self._top:
            self._pages.append([])
            self._y = self._top
