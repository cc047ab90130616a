"""How wide words are, and how they are broken into lines and set beside what they name.

This file decides where labels stand. Widths are those of the bundled font, which is wider than the fonts
that pages fall back on, so what fits here fits there.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from triagebot.pictures.geometry import Fitting, Point, number, spot
from triagebot.pictures.raster import FONT
from triagebot.pictures.sheet import Sheet

#: How wide the characters of the font are, in the units of which one em has so many. They stand in the font, too, but
#: to read it there takes a library of 3 MB. (`python -m tests.pictures.widths` writes the file anew.)
WIDTHS = FONT.with_suffix(".widths.json")
#: From one base line to the next, in em.
LEADING = 1.2
#: What a character is taken to be wide that the font does not have, in em.
UNKNOWN_WIDTH = 1.0


@cache
def advances() -> "MappingProxyType[int, float]":
    """Width in em of every character that the bundled font has, by code point."""
    kept = json.loads(WIDTHS.read_text(encoding="ascii"))
    return MappingProxyType({int(code): width / kept["em"] for code, width in kept["widths"].items()})


def width_of(text: str, em: float = 1.0) -> float:
    """Width of one line of text in letters of size `em`, in the unit of `em`."""
    known = advances()
    return em * sum(known.get(ord(character), UNKNOWN_WIDTH) for character in text)


def not_in_font(text: str) -> str:
    """The characters of a text that the bundled font cannot show, each once, in order."""
    return "".join(dict.fromkeys(c for c in text if not c.isspace() and ord(c) not in advances()))


def lines_of(text: str, width: float, em: float) -> tuple[str, ...]:
    """A text broken at its own line ends and at spaces into lines no wider than `width`; a single word may be wider. A
    number stays with the word that follows it."""
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line, *others = _words(paragraph)
        for word in others:
            if width_of(longer := f"{line} {word}", em) <= width:
                line = longer
            else:
                lines.append(line)
                line = word
        lines.append(line)
    return tuple(lines)


def widest(texts: Sequence[str], em: float) -> float:
    """Width of the widest single word of some texts: a column can be no narrower."""
    return max((width_of(word, em) for text in texts for word in _words(text)), default=0.0)


def _words(text: str) -> list[str]:
    return re.sub(r"(?<=\d)\s+(?=\S)", "\N{NO-BREAK SPACE}", text.strip()).split(" ")


def write(sheet: Sheet, at: Point, lines: Sequence[str], anchor: str = "start", scale: float = 1.0) -> None:
    """Lines one under the other; `at` is on the first one's base line."""
    for place, line in enumerate(lines):
        sheet.words((at[0], at[1] + place * LEADING * sheet.em * scale), line, anchor, scale)


@dataclass(frozen=True, slots=True)
class Label:
    """Words for a part of a drawing. `target` is a point on the part; `arrow` marks the one that matters most."""

    text: str
    target: Point
    arrow: bool = False


def column(sheet: Sheet, labels: Sequence[Label], x: float, top: float, bottom: float) -> None:
    """Labels in a column from `x` to the sheet's right edge, in the order given from top to bottom, each with a line
    to its target. Spread evenly between two heights, and closer together only where there is no room."""
    margin = 0.02 * sheet.width
    step = LEADING * sheet.em
    blocks = [lines_of(label.text, sheet.width - margin - x, sheet.em) for label in labels]
    free = max(0.0, bottom - top - sum(len(block) for block in blocks) * step)
    space = free / (len(blocks) + 1)
    y = top + space
    for label, block in zip(labels, blocks, strict=True):
        tall = len(block) * step
        _lead(sheet, (x - margin * 0.6, y + tall / 2), label)
        write(sheet, (x, y + sheet.em * 0.95), block)
        y += tall + space


def beside(sheet: Sheet, label: Label, x: float) -> None:
    """A label from `x` to the sheet's right edge at the height of its target, with a level line to it; lower only
    where it would stick out at the top."""
    block = lines_of(label.text, sheet.width - 0.02 * sheet.width - x, sheet.em)
    start = (x - 0.012 * sheet.width, label.target[1])
    if label.arrow:
        _lead(sheet, start, label)
    else:
        sheet.line(f"M{spot(start)} H{number(label.target[0])}", weight=0.003)
    top = max(0.02 * sheet.width, label.target[1] - len(block) * LEADING * sheet.em / 2)
    write(sheet, (x, top + sheet.em * 0.95), block)


def _lead(sheet: Sheet, start: Point, label: Label) -> None:
    end = label.target
    sheet.haloed(f"M{spot(start)} L{spot(end)}", weight=0.006 if label.arrow else 0.003)
    if label.arrow:
        sheet.arrow_head(end, (end[0] - start[0], end[1] - start[1]), 0.035)
    else:
        sheet.dot(end)


def dimension(sheet: Sheet, centre: Point, fitting: Fitting, y: float, lines: Sequence[str]) -> None:
    """A dimension line at height `y` under a fitting: extension lines, arrow heads, and the size below it, in lines.

    Extension lines start inside the ring where the diameter lies inside it, and clear of its edge where it is the edge.
    """
    left, right = centre[0] - fitting.across / 2, centre[0] + fitting.across / 2
    over = 0.012 * sheet.width
    start = centre[1] + (0.0 if fitting.across < fitting.outer else 0.3 * fitting.across)
    for x in (left, right):
        sheet.haloed(f"M{spot((x, start))} V{number(y + over)}", weight=0.0025)
    sheet.line(f"M{spot((left, y))} H{number(right)}", weight=0.004)
    sheet.arrow_head((left, y), (-1, 0))
    sheet.arrow_head((right, y), (1, 0))
    write(sheet, (centre[0], y + sheet.em * 1.25), lines, "middle")
