"""Fastenings seen from the sprocket side, one alone or several side by side, at scale 1:1.

This file decides what a view of a fastening shows. The innermost fitting is pointed out, the axle and the
locknut are grey and named, and number and size are those of the catalogue.
"""

from collections.abc import Sequence

from triagebot.pictures.geometry import Fitting, circle
from triagebot.pictures.lettering import LEADING, Label, column, dimension, lines_of, widest, write
from triagebot.pictures.looks import (
    COUNTED,
    Look,
    draw_fitting,
    draw_surroundings,
    first_mark,
    fitting_of,
    look_of,
    on,
    surroundings_of,
    turning,
)
from triagebot.pictures.sheet import GREY, LETTERS, Picture, Sheet
from triagebot.topics import Texts, Topic, Turn

#: Room round a drawing, as a share of the picture's width.
MARGIN = 0.03
#: The share of a picture's width that labels beside a drawing get, unless a long word needs more.
LABELLED, MOST_LABELLED = 0.3, 0.5
#: Room for the arrow that shows which way it loosens, as a share of the picture's width.
ARROW = 0.05
#: Room round a drawing for the arrow by which it is turned, mm, and the degrees of it.
ROUND, TURNED = 9.0, 130
#: So many fastenings stand in one row.
ROW = 2


def fastening_view(topic: Topic, fastening_id: str, texts: Texts) -> Picture:
    """A fastening of a topic, with the innermost fitting pointed out. One that the catalogue does not describe (the
    unlisted one) is a dashed ring with a question mark. Raises KeyError for an unknown id, DataError for a label that
    the texts lack."""
    fastening = topic.fastenings[fastening_id]
    look = look_of(fastening)
    around = surroundings_of(look)
    names = [texts("label-locknut"), what(look, texts), texts("label-axle")]
    sheet = Sheet(f"fastening-{fastening_id}", width_beside(around.outer, names))
    margin = MARGIN * sheet.width
    at, top = (margin + around.outer / 2, margin + around.outer / 2), margin
    if fastening.direction != "none":
        top += _loosening(sheet, at, around.outer, fastening.direction, texts)
        at = (at[0], top + around.outer / 2)
    draw_surroundings(sheet, at, around)
    fitting = draw_fitting(sheet, at, look)
    first_mark(sheet, at, fitting)
    bottom = at[1] + around.outer / 2
    height = bottom + margin
    if look.sizes:
        dimension(sheet, at, fitting, bottom + margin, (size_of(look, texts),))
        height += LEADING * sheet.em + margin
    if look.kind == "unknown":
        _question_mark(sheet, at, fitting.inner, look.across)
    targets = [on(at, fitting.inner * 0.6, 55), on(at, _wall(look, fitting), 90), on(at, fitting.inner * 0.24, 150)]
    labels = [Label(name, target, arrow=name is names[1]) for name, target in zip(names, targets, strict=True)]
    column(sheet, labels, 2 * margin + around.outer, top, bottom)
    alt = f"{in_words(topic, fastening_id, texts)} {_loosens(topic, fastening_id, texts)}".rstrip()
    return sheet.picture(height, texts(f"fastening-{fastening_id}.short"), alt)


def turning_view(topic: Topic, fastening_id: str, way: Turn, texts: Texts) -> Picture:
    """Which way something is turned, for the step at which it is: two thick arrows round the fastening, and the way in
    words. Raises KeyError for an unknown id, DataError for a label that the texts lack."""
    look = look_of(topic.fastenings[fastening_id])
    around = surroundings_of(look)
    whole = around.outer + 2 * ROUND
    sheet = Sheet(f"turning-{way}-{fastening_id}", 2.1 * whole)
    margin = MARGIN * sheet.width
    at = (margin + whole / 2, margin / 2 + whole / 2)
    draw_surroundings(sheet, at, around)
    draw_fitting(sheet, at, look)
    for middle in (0, 180):
        turning(sheet, at, around.outer + ROUND, middle, way, TURNED, 0.05)
    x = 2 * margin + whole
    lines = lines_of(texts(f"label-turn-{way}"), sheet.width - margin - x, sheet.em)
    write(sheet, (x, at[1] - (len(lines) / 2 - 0.75) * LEADING * sheet.em), lines)
    alt = texts(f"label-turn-view-{way}", fastening=texts(f"fastening-{fastening_id}.short"))
    return sheet.picture(whole + margin, texts(f"label-turn-{way}"), alt)


def fitting_alone(topic: Topic, fastening_id: str, texts: Texts) -> Picture:
    """A fastening without a word in it and without sprockets, for a list that names it beside: it can be shown as small
    as one likes. Raises KeyError for an unknown id."""
    look = look_of(topic.fastenings[fastening_id])
    side = max(surroundings_of(look).face, fitting_of(look).outer) * (1 + 2 * MARGIN)
    sheet = Sheet(f"fitting-{fastening_id}", side)
    at = (side / 2, side / 2)
    sheet.shape(at, circle(side / (1 + 2 * MARGIN)), GREY)
    draw_fitting(sheet, at, look)
    return sheet.picture(side, texts(f"fastening-{fastening_id}.short"), in_words(topic, fastening_id, texts))


def _loosening(sheet: Sheet, at: tuple[float, float], outer: float, way: str, texts: Texts) -> float:
    """An arrow over a drawing that is still to be drawn, the way the fitting loosens, and over the arrow what it says;
    returns how much room they take."""
    margin = MARGIN * sheet.width
    lines = lines_of(texts("label-loosens"), outer + margin, sheet.em)
    words = len(lines) * LEADING * sheet.em
    write(sheet, (at[0], margin + 0.95 * sheet.em), lines, "middle")
    room = words + ARROW * sheet.width
    turning(sheet, (at[0], at[1] + room), outer + 1.1 * ARROW * sheet.width, 0, way, 80, 0.05)
    return room


def _loosens(topic: Topic, fastening_id: str, texts: Texts) -> str:
    """The same in words; "" for what is not unscrewed."""
    way = topic.fastenings[fastening_id].direction
    return texts(f"label-loosens-{way}") if way != "none" else ""


def _wall(look: Look, fitting: Fitting) -> float:
    """The diameter at which an arrow points at a fitting: where it is light."""
    if look.kind == "notches":
        return fitting.outer
    return (fitting.outer + (fitting.across if look.kind == "splines" else fitting.inner)) / 2


def look_alikes(topic: Topic, ids: Sequence[str], texts: Texts) -> Picture:
    """Fastenings side by side at one scale, each with its name, number and size. Raises ValueError for no ids, and
    KeyError and DataError as `fastening_view` does."""
    if not ids:
        raise ValueError("look_alikes needs at least one fastening")
    looks = [look_of(topic.fastenings[name]) for name in ids]
    cell = max(fitting_of(look).outer for look in looks) + 14.0
    across = min(len(ids), ROW)
    sheet = Sheet("look-alikes-" + "-".join(ids), cell * across)
    margin = MARGIN * sheet.width
    y = margin
    for first in range(0, len(ids), across):
        row = list(zip(ids[first : first + across], looks[first : first + across], strict=True))
        y = _row(sheet, topic, row, cell, y, texts) + margin
    title = texts("label-side-by-side", count=len(ids))
    told = [words for name in ids for words in (in_words(topic, name, texts), _loosens(topic, name, texts)) if words]
    return sheet.picture(y, title, " ".join([title, *told]))


def _row(sheet: Sheet, topic: Topic, row: Sequence[tuple[str, Look]], cell: float, top: float, texts: Texts) -> float:
    """One row of look-alikes, each with an arrow the way it loosens; returns where it ends."""
    below = 0.0
    tallest = max(fitting_of(look).outer for _, look in row)
    margin = MARGIN * sheet.width
    sizes = [lines_of(size_of(look, texts), cell - margin, sheet.em) if look.sizes else () for _, look in row]
    for place, (name, look) in enumerate(row):
        at = (cell * (place + 0.5), top + LEADING * sheet.em + margin + tallest / 2)
        fitting = draw_fitting(sheet, at, look)
        first_mark(sheet, at, fitting)
        way = topic.fastenings[name].direction
        if way != "none":
            turning(sheet, at, fitting.outer + 5, 270, way, 70, 0.04)
        y = at[1] + tallest / 2 + margin
        if look.kind == "unknown":
            _question_mark(sheet, at, fitting.inner, look.across)
        if look.sizes:
            dimension(sheet, at, fitting, y, sizes[place])
        y += (1.4 + LEADING * max(1, *map(len, sizes))) * sheet.em
        lines = lines_of(texts(f"fastening-{name}.short"), cell - margin, sheet.em)
        write(sheet, (at[0], y), lines, "middle")
        below = max(below, y + (len(lines) - 1) * LEADING * sheet.em + 0.3 * sheet.em)
    return below


def _question_mark(sheet: Sheet, at: tuple[float, float], inner: float, across: float) -> None:
    for angle in (0, 180, 270):
        x, y = on(at, (inner + across) / 2, angle)
        sheet.words((x, y + 0.36 * sheet.em), "?", "middle")


def width_beside(drawing: float, labels: Sequence[str]) -> float:
    """Width of a picture that holds a drawing (mm) and labels beside it, wide enough for their longest word."""
    needed = widest(labels, LETTERS) + MARGIN
    return drawing / (1 - 3 * MARGIN - min(max(LABELLED, needed), MOST_LABELLED))


# --- in words ---------------------------------------------------------------------------------------------------------


def what(look: Look, texts: Texts) -> str:
    """What there is to grip, in a few words: "12 splines"."""
    if look.counts is None:
        return texts(f"label-{look.kind}")
    low, high = look.counts
    if low == high:
        return texts(f"label-count-{look.kind}", count=low)
    return texts(f"label-counts-{look.kind}", low=low, high=high)


def size_of(look: Look, texts: Texts) -> str:
    """How wide it is: "23.4 mm", or "30–45 mm". The look must have a size."""
    assert look.sizes is not None
    low, high = look.sizes
    return texts("label-size", size=low) if low == high else texts("label-sizes", low=low, high=high)


def in_words(topic: Topic, fastening_id: str, texts: Texts) -> str:
    """All that a view of a fastening shows, in words."""
    look = look_of(topic.fastenings[fastening_id])
    name = texts(f"fastening-{fastening_id}")
    if look.sizes and look.kind in COUNTED:
        return texts("label-view-sized", fastening=name, what=what(look, texts), size=size_of(look, texts))
    return texts("label-view", fastening=name, what=what(look, texts))
