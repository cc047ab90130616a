"""A page of paper: its size, what is drawn on it, and the same page as a picture for the web.

This file decides the kinds of paper, how much of a page's edge no printer is trusted with, which squares
in the corners stay empty, and how thin a line is that somebody lays a part on. Lengths in mm, origin at the upper left.
"""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal
from xml.sax.saxutils import escape

from triagebot.pictures import Picture, Point, number, on_paper

Paper = Literal["A4", "letter"]

#: Width and height in mm: ISO 216 and ANSI.
PAPERS = MappingProxyType[Paper, Point]({"A4": (210.0, 297.0), "letter": (215.9, 279.4)})

#: Countries (ISO 3166) where letters are written on the US sheet (the Unicode consortium's table of paper sizes).
LETTER = frozenset({"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"})

#: Nothing is printed so near to the edge, and the sides of the empty squares that begin there.
MARGIN, CORNER = 10.0, 20.0

#: Width of a line to measure by.
THIN = 0.12
INK = "#000000"


@dataclass(frozen=True, slots=True)
class Line:
    """Path data round `at`, drawn with a pen so wide."""

    path: str
    at: Point = (0.0, 0.0)
    weight: float = THIN


@dataclass(frozen=True, slots=True)
class Area:
    """Path data round `at`, filled."""

    path: str
    at: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text; `at` is on its base line, and `anchor` says which part of the text lies there. `em` in mm."""

    at: Point
    text: str
    em: float
    anchor: Literal["start", "middle", "end"] = "start"


Mark = Line | Area | Words


@dataclass(frozen=True, slots=True)
class Page:
    """One page: `name` (letters and hyphens), its title, and what is on it, back to front."""

    name: str
    width: float
    height: float
    title: str
    marks: tuple[Mark, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """All its words, from top to bottom as they were written."""
        return tuple(mark.text for mark in self.marks if isinstance(mark, Words))

    def picture(self) -> Picture:
        """The page as SVG at true size; told to those who cannot see it by all the words on it."""
        body = "\n".join(map(_svg, self.marks))
        return on_paper(self.name, self.width, self.height, self.title, " ".join(self.words), body)


def paper_of(country: str) -> Paper:
    """The paper that printers in a country hold (ISO 3166 code of two letters, either case)."""
    return "letter" if country.upper() in LETTER else "A4"


def _svg(mark: Mark) -> str:
    x, y = map(number, mark.at)
    match mark:
        case Words():
            em = number(mark.em)
            text = escape(mark.text)
            return f'<text x="{x}" y="{y}" font-size="{em}" text-anchor="{mark.anchor}" fill="{INK}">{text}</text>'
        case Area():
            return f'<path transform="translate({x} {y})" d="{mark.path}" fill="{INK}" fill-rule="evenodd"/>'
        case Line():
            return (
                f'<path transform="translate({x} {y})" d="{mark.path}" fill="none" stroke="{INK}" '
                f'stroke-width="{number(mark.weight)}"/>'
            )


# --- path data --------------------------------------------------------------------------------------------------------


def rectangle(width: float, height: float, corner: float = 0.0) -> str:
    """A rectangle from the origin to the right and down, with rounded corners where `corner` is their radius."""
    if not corner:
        return f"M0 0 H{number(width)} V{number(height)} H0Z"
    r, w, h = number(corner), number(width - 2 * corner), number(height - 2 * corner)
    turn = f"a{r} {r} 0 0 1"
    return f"M{r} 0 h{w} {turn} {r} {r} v{h} {turn} -{r} {r} h-{w} {turn} -{r} -{r} v-{h} {turn} {r} -{r}Z"
