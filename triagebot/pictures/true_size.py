"""Outlines to lay a fitting on, and a bar to check the printer with: true to size when printed at 100 %.

Decided here and nowhere else: how thin such an outline is, so that either edge of it is within 0.1 mm of the truth.
"""

from triagebot.pictures.geometry import circle, number, polygon
from triagebot.pictures.looks import fitting_of, look_of
from triagebot.pictures.sheet import INK, Picture, Sheet
from triagebot.pictures.views import size_of, what
from triagebot.topics import Texts, Topic

#: Width of an outline, mm.
THIN = 0.12
#: Room round a drawing, and size of letters, mm.
ROOM, LETTERS_MM = 4.0, 3.2


def true_outline(topic: Topic, fastening_id: str, texts: Texts) -> Picture:
    """The outline of a fastening's fitting, true to size, with what it is under it. Raises KeyError for an unknown
    fastening, ValueError for one whose size the catalogue does not give, DataError for a text that is lacking."""
    look = look_of(topic.fastenings[fastening_id])
    if look.sizes is None:
        raise ValueError(f"the catalogue gives no size for {fastening_id}")
    fitting = fitting_of(look)
    title = texts(f"fastening-{fastening_id}.short")
    sheet = Sheet(f"outline-{fastening_id}", max(fitting.outer, 40.0) + 2 * ROOM, LETTERS_MM)
    at = (sheet.width / 2, ROOM + fitting.outer / 2)
    sheet.shape(at, fitting.body, "none", INK, THIN / sheet.width)
    if fitting.recesses:
        sheet.shape(at, fitting.recesses, "none", INK, THIN / sheet.width)
    if fitting.across < fitting.outer:
        sheet.line(circle(fitting.across), at, THIN / sheet.width)
    base = at[1] + fitting.outer / 2 + ROOM
    size, grip = size_of(look, texts), what(look, texts)
    for place, line in enumerate((size, grip)):
        sheet.words((at[0], base + place * 1.3 * LETTERS_MM), line, "middle")
    alt = f"{title}: {grip}, {size}."
    return sheet.picture(base + 1.3 * LETTERS_MM + ROOM / 2, title, alt)


def scale_bar(length: float, texts: Texts) -> Picture:
    """A black bar of a length in mm (10 at least), with a tick at every 10 mm, to be measured after printing."""
    if length < 10:
        raise ValueError(f"a bar to check a printer with is 10 mm long at least, not {length:g}")
    label = texts("label-size", size=length)
    sheet = Sheet(f"bar-{number(length).replace('.', '-')}", length + 2 * ROOM, LETTERS_MM)
    sheet.shape((ROOM, ROOM), polygon([(0, 0), (length, 0), (length, 2), (0, 2)]), INK, "none")
    for place in range(int(length // 10) + 1):
        sheet.line(f"M{number(ROOM + 10 * place)} {number(ROOM + 2)} v2", weight=THIN / sheet.width)
    sheet.words((sheet.width / 2, ROOM + 5 + LETTERS_MM), label, "middle")
    return sheet.picture(2 * ROOM + 5 + LETTERS_MM, label, label)
