"""The pictures that go with questions: where to look, what the kinds are, how to count and to measure.

This file decides which pictures a topic may name in its flow file (`LESSONS`). What each shows is promised
to those who cannot see it by the topic's text `picture-<id>`. They teach a way of looking, so they show examples, and
unlike the views of fastenings they are not to scale.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from math import degrees
from types import MappingProxyType

from triagebot.pictures.geometry import (
    HubBody,
    Point,
    arc,
    axle_inside,
    circle,
    eight_deep,
    nine_with_one_narrow,
    number,
    polar,
    splined,
    spot,
    sprocket,
    tip_diameter,
)
from triagebot.pictures.lettering import LEADING, Label, beside, column, lines_of, write
from triagebot.pictures.looks import Look, draw_axle, draw_fitting, on
from triagebot.pictures.measuring import measuring
from triagebot.pictures.sheet import GREY, INK, PALE, PAPER, Picture, Sheet
from triagebot.pictures.spinning import spin_test
from triagebot.pictures.views import MARGIN, width_beside
from triagebot.topics import Question, Texts, Topic


@dataclass(frozen=True, slots=True)
class Words:
    """What a lesson is told: the texts, and the number under which each choice of its question is listed."""

    texts: Texts
    numbers: Mapping[str, int]
    title: str
    alt: str


def question_picture(topic: Topic, picture_id: str, texts: Texts) -> Picture:
    """The picture of that name, with choices numbered as its question lists them. Raises KeyError for a name that is
    not in `LESSONS`, DataError for a text that is lacking."""
    draw = LESSONS[picture_id]
    question = _question_of(topic, picture_id)
    numbers = {choice: place for place, choice in enumerate(question.choices, 1)} if question else {}
    title = texts(f"question-{question.id}.name") if question else topic.id
    return draw(Words(texts, MappingProxyType(numbers), title, texts(f"picture-{picture_id}")))


def _question_of(topic: Topic, picture_id: str) -> Question | None:
    return next((question for question in topic.flow.questions if question.picture == picture_id), None)


# --- where to look ----------------------------------------------------------------------------------------------------


def innermost_fitting(words: Words) -> Picture:
    """Axle, locknut, the fitting with an arrow at it, the face ring and two sprockets."""
    names = [words.texts(f"label-{name}") for name in ("sprockets", "face-ring", "innermost", "locknut", "axle")]
    small, large = 12, 15
    outer = tip_diameter(large)
    sheet = Sheet("innermost-fitting", width_beside(outer, names))
    margin = MARGIN * sheet.width
    at = (margin + outer / 2, margin + outer / 2)
    sheet.shape(at, sprocket(large), PALE)
    sheet.shape(at, sprocket(small), PALE)
    sheet.shape(at, circle(37.5), GREY)
    fitting = draw_fitting(sheet, at, Look("splines", 12, (12, 12), 24.5))
    targets = [
        on(at, tip_diameter(small) - 6, 33),
        on(at, (37.5 + fitting.outer) / 2, 58),
        on(at, (fitting.outer + fitting.across) / 2, 90),
        on(at, fitting.inner * 0.6, 117),
        on(at, fitting.inner * 0.26, 150),
    ]
    labels = [Label(name, target, arrow=name is names[2]) for name, target in zip(names, targets, strict=True)]
    column(sheet, labels, 2 * margin + outer, margin, margin + outer)
    return sheet.picture(outer + 2 * margin, words.title, words.alt)


# --- which kind -------------------------------------------------------------------------------------------------------

#: One example of each kind of fitting: number and width are usual ones.
KINDS = (
    Look("splines", 12, (12, 12), 23.0),
    Look("notches", 4, (4, 4), 26.0),
    Look("outer-notches", 4, (4, 4), 27.0),
    Look("none", across=26.0),
)


def fitting_kinds(words: Words) -> Picture:
    """The kinds of fitting, two and two side by side, numbered as the choices are."""
    kinds = sorted(KINDS, key=lambda look: words.numbers.get(look.kind, 0))
    cells: list[Cell] = [
        (look.kind, words.texts(f"label-{look.kind}"), partial(draw_fitting, look=look)) for look in kinds
    ]
    return _choices("fitting-kinds", cells, 27.2, words)


#: Room above the drawings of hub bodies for what points at the narrower spline, mm.
HEAD = 9.5


def body_patterns(words: Words) -> Picture:
    """Two hub bodies seen from the end, numbered as the choices are."""
    narrow = words.texts("label-narrower")

    def nine(sheet: Sheet, at: Point) -> None:
        _body(sheet, at, nine_with_one_narrow())
        x, y = at[0], at[1] - 35.5 / 2
        lines = lines_of(narrow, 5.5 * sheet.em, sheet.em)
        start = y - HEAD + len(lines) * LEADING * sheet.em
        sheet.haloed(f"M{spot((x, start))} V{number(y)}")
        sheet.arrow_head((x, y), (0, 1))
        write(sheet, (x, y - HEAD + 0.85 * sheet.em), lines, "middle")

    def eight(sheet: Sheet, at: Point) -> None:
        _body(sheet, at, eight_deep())

    cells: list[Cell] = [
        (choice, words.texts(f"label-{choice}"), draw)
        for choice, draw in (("nine-one-narrow", nine), ("eight-deep", eight))
    ]
    return _choices("body-patterns", cells, 34.5, words, head=HEAD)


def _body(sheet: Sheet, at: Point, body: HubBody) -> None:
    sheet.pointed_out(at, body.outline + circle(body.inner - 5.0))
    draw_axle(sheet, at, axle_inside(body.inner - 5.0))


#: A choice's id, its label, and what draws it round a point.
Cell = tuple[str, str, Callable[[Sheet, Point], object]]


def _choices(name: str, cells: list[Cell], across: float, words: Words, head: float = 0.0) -> Picture:
    """Choices two in a row, each with its number above and its label below; `head` is free above a drawing, mm."""
    cell = across + 11.0
    sheet = Sheet(name, 2 * cell)
    margin = MARGIN * sheet.width
    top = margin
    for first in range(0, len(cells), 2):
        middle = top + head + across / 2
        below = top
        for place, (choice, label, draw) in enumerate(cells[first : first + 2]):
            at = (cell * (place + 0.5), middle)
            draw(sheet, at)
            if choice in words.numbers:
                sheet.badge((cell * place + margin + sheet.em * 0.4, top + sheet.em * 0.9), str(words.numbers[choice]))
            lines = lines_of(label, cell - margin, sheet.em)
            y = middle + across / 2 + margin / 2 + sheet.em
            write(sheet, (at[0], y), lines, "middle")
            below = max(below, y + (len(lines) - 1) * LEADING * sheet.em + 0.35 * sheet.em)
        top = below + margin
    return sheet.picture(top, words.title, words.alt)


# --- how to count and to measure --------------------------------------------------------------------------------------


def count_with_a_mark(words: Words) -> Picture:
    """A splined fitting with a pen mark on one spline, and an arrow from the mark all the way round and back."""
    names = [words.texts("label-mark"), words.texts("label-all-round")]
    look = Look("splines", 12, (12, 12), 42.0)
    fitting = splined(look.count, look.across)
    arrow_at = fitting.outer + 9.0
    outer = arrow_at + 3.0
    sheet = Sheet("count-with-a-mark", width_beside(outer, names))
    margin = MARGIN * sheet.width
    at = (margin + outer / 2, margin + outer / 2)
    draw_fitting(sheet, at, look)
    _pen_mark(sheet, at, fitting.inner, fitting.outer)
    for place, angle in enumerate(fitting.marks[:3], 1):
        x, y = on(at, fitting.inner - 2.2 * sheet.em, angle)
        sheet.words((x, y + 0.36 * sheet.em), str(place), "middle")
    start, end, head = 6.0, 354.0, 0.045
    swept = degrees(head * sheet.width / (arrow_at / 2))
    sheet.haloed(arc(arrow_at / 2, start, end - 0.8 * swept), at)
    sheet.arrow_head(on(at, arrow_at, end), polar(1, end - swept / 2 + 90), head)
    beside(sheet, Label(names[0], (at[0] + 1.6, at[1] - fitting.outer / 2 + 0.8), arrow=True), 2 * margin + outer)
    beside(sheet, Label(names[1], on(at, arrow_at, 100)), 2 * margin + outer)
    return sheet.picture(outer + 2 * margin, words.title, words.alt)


def _pen_mark(sheet: Sheet, at: Point, inner: float, outer: float) -> None:
    half = 1.3
    top, bottom = outer / 2, inner / 2
    sheet.shape(at, f"M-{half} -{number(top)} H{half} V-{number(bottom)} H-{half}Z", INK, PAPER)


def measure_across(words: Words) -> Picture:
    """A calliper in a hole, one round a ring, and a rule across the middle."""
    return measuring(words.texts, words.title, words.alt)


def spinning(words: Words) -> Picture:
    """A hand on the tyre, the sprockets spun backwards, and the two results side by side."""
    return spin_test(words.texts, words.numbers, words.title, words.alt)


def wire_ring_lesson(words: Words) -> Picture:
    """A sprocket on its hub, and the wire ring with its gap in a groove just outside it."""
    names = [words.texts(f"label-{name}") for name in ("sprocket", "gap", "wire-ring", "hub")]
    teeth = 16
    outer = tip_diameter(teeth)
    sheet = Sheet("wire-ring", width_beside(outer, names))
    margin = MARGIN * sheet.width
    at = (margin + outer / 2, margin + outer / 2)
    sheet.shape(at, sprocket(teeth), PALE)
    fitting = draw_fitting(sheet, at, Look("wire-ring", across=36.0))
    targets = [
        on(at, outer - 14, 30),
        on(at, fitting.across + 2.5, 35),  # beside the gap, which a dot would fill
        on(at, fitting.across, 95),
        on(at, fitting.inner - 5, 130),
    ]
    labels = [Label(name, target, arrow=name is names[2]) for name, target in zip(names, targets, strict=True)]
    column(sheet, labels, 2 * margin + outer, margin, margin + outer)
    return sheet.picture(outer + 2 * margin, words.title, words.alt)


#: The pictures that a flow file may name, each with what draws it.
LESSONS: Mapping[str, Callable[[Words], Picture]] = MappingProxyType(
    {
        "innermost-fitting": innermost_fitting,
        "fitting-kinds": fitting_kinds,
        "count-with-a-mark": count_with_a_mark,
        "measure-across": measure_across,
        "spin-test": spinning,
        "body-patterns": body_patterns,
        "wire-ring": wire_ring_lesson,
    }
)
