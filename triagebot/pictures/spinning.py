"""How the spin test is made, and its two results side by side: a hand on the tyre, the sprockets spun backwards, and
the ring next to the axle either carried along or left where it is.

This file decides how that is shown. A dark dot on the ring stands for a dot of pen: where the ring turns along, an
arrow leads from where the dot was (light) to where it is; where it stays, the dot is still at the top.
"""

from collections.abc import Mapping

from triagebot.pictures.geometry import Point, circle, number, ring, sprocket, tip_diameter
from triagebot.pictures.lettering import LEADING, lines_of, write
from triagebot.pictures.looks import Look, draw_fitting, on, turning
from triagebot.pictures.sheet import DARK, EDGE, GREY, INK, PALE, PAPER, Picture, Sheet
from triagebot.topics import Texts

#: Width of one wheel's place, the wheel, the inside of its tyre, mm; teeth of the sprocket; the ring in the middle.
CELL, WHEEL, TYRE, TEETH = 118.0, 108.0, 92.0, 14
RING = Look("splines", 12, (12, 12), 34.0)
#: Fingers over the tyre: how wide each is and how far they reach above and below its outer edge, mm.
FINGER, ABOVE, BELOW = 6.5, 7.0, 11.0
#: How far the dot is carried along, degrees.
CARRIED = 75


def spin_test(texts: Texts, numbers: Mapping[str, int], title: str, alt: str) -> Picture:
    """The picture `spin-test`; `numbers` are those of the choices `turns` and `stays`."""
    sheet = Sheet("spin-test", 2 * CELL)
    margin = 0.02 * sheet.width
    head = lines_of(texts("label-spin-test"), sheet.width - 2 * margin, sheet.em)
    write(sheet, (sheet.width / 2, margin + 0.95 * sheet.em), head, "middle")
    top = margin + len(head) * LEADING * sheet.em + ABOVE + 0.4 * sheet.em
    below = top
    for place, choice in enumerate(("turns", "stays")):
        at = (CELL * (place + 0.5), top + WHEEL / 2)
        _wheel(sheet, at)
        _dot(sheet, at, carried=choice == "turns")
        lines = lines_of(texts(f"label-spin-{choice}"), CELL - 3.2 * sheet.em, sheet.em)
        y = top + WHEEL + margin + 0.95 * sheet.em
        write(sheet, (at[0] + sheet.em, y), lines, "middle")
        if choice in numbers:
            sheet.badge((CELL * place + 1.2 * sheet.em, y - 0.3 * sheet.em), str(numbers[choice]))
        below = max(below, y + (len(lines) - 1) * LEADING * sheet.em + 0.6 * sheet.em)
    return sheet.picture(below + margin / 2, title, alt)


def _wheel(sheet: Sheet, at: Point) -> None:
    """A wheel, held by its tyre, its sprockets spun backwards: anticlockwise, as they are looked at."""
    sheet.shape(at, ring(WHEEL, TYRE), DARK, EDGE)
    for spoke in range(0, 360, 30):
        start, end = on((0, 0), 60, spoke), on((0, 0), TYRE, spoke)
        path = f"M{number(start[0])} {number(start[1])} L{number(end[0])} {number(end[1])}"
        sheet.line(path, at, 0.002, EDGE)
    sheet.shape(at, sprocket(TEETH), PALE)
    turning(sheet, at, tip_diameter(TEETH) + 9, 180, "anticlockwise", 110, 0.032)
    turning(sheet, at, tip_diameter(TEETH) + 9, 0, "anticlockwise", 110, 0.032)
    sheet.shape(at, circle(44), GREY)
    draw_fitting(sheet, at, RING)
    _hand(sheet, (at[0], at[1] - WHEEL / 2))


def _hand(sheet: Sheet, at: Point) -> None:
    """Four fingers over the tyre."""
    half, tall = FINGER / 2, ABOVE + BELOW
    finger = f"M-{half} {half} a{half} {half} 0 0 1 {FINGER} 0 V{tall - half} a{half} {half} 0 0 1 -{FINGER} 0 Z"
    for place in range(4):
        sheet.shape((at[0] + (place - 1.5) * FINGER, at[1] - ABOVE), finger, PAPER, INK, 0.004)


def _dot(sheet: Sheet, at: Point, *, carried: bool) -> None:
    """A dot of pen on the ring; where it was is left light."""
    across = (RING.across + 39) / 2
    if carried:
        turning(sheet, at, across, 360 - CARRIED / 2, "anticlockwise", CARRIED - 26, 0.024)
        _spot(sheet, on(at, across, 0), PAPER)
    _spot(sheet, on(at, across, 360 - CARRIED if carried else 0), INK)


def _spot(sheet: Sheet, at: Point, fill: str) -> None:
    sheet.shape(at, circle(5.6), fill, INK, 0.004)
