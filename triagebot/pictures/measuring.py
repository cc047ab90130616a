"""How a calliper and a rule are laid across a fitting: two panels, one below the other.

This file decides what is shown at the widest place. Small jaws in a hole go from groove to groove. Large
jaws round a ring lie on its full edge, since a flat jaw over a notch sinks in and reads short; that also holds for an
odd number of notches, which have an edge opposite them. A rule's marked edge goes through the middle.
"""

from triagebot.pictures.geometry import Point, chord, number, spot
from triagebot.pictures.instruments import BEAM, LARGE_JAW, SMALL_JAW, Calliper, calliper, rule
from triagebot.pictures.lettering import LEADING, Label, beside, lines_of, write
from triagebot.pictures.looks import Look, draw_fitting, fitting_of
from triagebot.pictures.sheet import EDGE, GREY, INK, PALE, PAPER, Picture, Sheet
from triagebot.topics import Texts

#: Width of the sheet, mm, and of the margin round each drawing.
WIDTH, MARGIN = 96.0, 2.9
#: How far jaws reach beyond the middle of what they measure, mm.
PAST = 1.6

#: What is measured: a splined hole with a groove at either side, a ring with an odd number of notches, and a notched
#: face drawn `ENLARGED` times so that the mm of a rule can be told on a phone.
IN_HOLE, ROUND_RING, UNDER_RULE = (
    Look("splines", 12, (12, 12), 20.0),
    Look("outer-notches", 3, (3, 3), 24.0),
    Look("notches", 2, (2, 2), 25.0),
)
ENLARGED = 1.5


def measuring(texts: Texts, title: str, alt: str) -> Picture:
    """The picture `measure-across`."""
    sheet = Sheet("measure-across", WIDTH)
    below = _calliper_panel(sheet, texts, MARGIN)
    sheet.line(f"M{spot((MARGIN, below))} H{number(WIDTH - MARGIN)}", weight=0.003, colour=EDGE)
    return sheet.picture(_rule_panel(sheet, texts, below + MARGIN), title, alt)


def _heading(sheet: Sheet, text: str, top: float) -> float:
    """A line or two over a panel; returns where the panel may begin."""
    lines = lines_of(text, WIDTH - 2 * MARGIN, sheet.em)
    write(sheet, (MARGIN, top + sheet.em), lines)
    return top + len(lines) * LEADING * sheet.em + MARGIN


def _calliper_panel(sheet: Sheet, texts: Texts, top: float) -> float:
    """Both ways to use a calliper, side by side; returns where the panel ends."""
    top = _heading(sheet, texts("label-calliper"), top)
    hole, ring = fitting_of(IN_HOLE), fitting_of(ROUND_RING)
    middle = top + hole.outer / 2
    beam = middle + SMALL_JAW - PAST
    end = beam + BEAM + LARGE_JAW
    half = WIDTH / 2

    inside = calliper(hole.across)
    at = (half / 2 - (inside.left + inside.right) / 2, beam)
    draw_fitting(sheet, (at[0] + hole.across / 2, middle), IN_HOLE, first=180 / IN_HOLE.count)
    _draw(sheet, inside, at, middle)

    outside = calliper(ring.across)
    middle = end - ring.outer / 2
    at = (half * 1.5 - (outside.left + outside.right) / 2, middle + PAST - BEAM - LARGE_JAW)
    draw_fitting(sheet, (at[0] + ring.across / 2, middle), ROUND_RING)
    _draw(sheet, outside, at, middle)

    below = end
    for place, name in enumerate(("label-in-a-hole", "label-round-a-ring")):
        lines = lines_of(texts(name), half - MARGIN, sheet.em)
        write(sheet, (half * (place + 0.5), end + MARGIN + sheet.em * 0.8), lines, "middle")
        below = max(below, end + MARGIN + len(lines) * LEADING * sheet.em)
    return below + MARGIN / 2


def _draw(sheet: Sheet, tool: Calliper, at: Point, middle: float) -> None:
    """A calliper, and a line between its faces through the middle of what it measures."""
    wheel = (at[0] + tool.wheel_at[0], at[1] + tool.wheel_at[1])
    sheet.shape(wheel, tool.wheel, GREY, INK)
    sheet.shape(at, tool.fixed, PALE, INK, 0.005)
    sheet.line(tool.marks, at, 0.003)
    sheet.shape(at, tool.slide, PAPER, INK, 0.005)
    _across(sheet, (at[0], middle), tool.reading, 0.006, 0.024)


def _across(sheet: Sheet, start: Point, length: float, weight: float, head: float, dashed: bool = False) -> None:
    """A level line with an arrow head at both ends."""
    end = (start[0] + length, start[1])
    path = f"M{spot(start)} H{number(end[0])}"
    if dashed:
        sheet.dashed(path, weight=weight)
    else:
        sheet.haloed(path, weight=weight)
    sheet.arrow_head(start, (-1, 0), head)
    sheet.arrow_head(end, (1, 0), head)


def _rule_panel(sheet: Sheet, texts: Texts, top: float) -> float:
    """A rule through the middle, and beside it the line that is too short; returns where the panel ends."""
    top = _heading(sheet, texts("label-rule"), top)
    look = Look("notches", 2, (2, 2), UNDER_RULE.across * ENLARGED)
    scale = rule(30, ENLARGED, 3.2 * sheet.em)
    at = (MARGIN - scale.left + look.across / 2, top + look.across / 2 + 1)
    draw_fitting(sheet, at, look)
    zero = (at[0] - look.across / 2, at[1])
    sheet.shape(zero, scale.body, PAPER, INK, 0.005)
    sheet.line(scale.marks, zero, 0.003)
    for x, text in scale.numbers:
        sheet.words((zero[0] + x, zero[1] + 3.4 * ENLARGED + sheet.em * 0.76), text, "middle")
    x = zero[0] + scale.right + 3 * MARGIN / 2
    for name, offset in (("label-wrong", 0.4 * look.across), ("label-right", 0.0)):
        half, y = chord(look.across, offset) / 2, at[1] - offset
        _across(sheet, (at[0] - half, y), 2 * half, 0.008 if offset else 0.012, 0.03, dashed=offset > 0)
        beside(sheet, Label(texts(name), (at[0] + half + 0.012 * sheet.width, y)), x)
    return at[1] + look.across / 2 + MARGIN
