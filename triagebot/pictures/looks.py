"""What a fastening looks like, taken from the catalogue's answers alone, and drawn in the middle of its wheel.

This file decides which answers say how a fastening looks (the questions `fitting`, `count`, `size` and
`wire-ring`), the sizes that stand in where the catalogue gives none, and what is drawn round the fitting.
"""

from dataclasses import dataclass
from math import degrees
from types import MappingProxyType
from typing import Literal

from triagebot.pictures.geometry import (
    Axle,
    Fitting,
    Point,
    arc,
    axle_inside,
    circle,
    hexagon,
    notched,
    notched_outside,
    polar,
    polygon,
    ring,
    smooth,
    splined,
    sprocket,
    sprocket_round,
    tip_diameter,
    wire_ring,
)
from triagebot.pictures.sheet import DARK, DEEP, GREY, INK, PALE, PAPER, Sheet
from triagebot.topics import Fastening, TrueSize

Kind = Literal["splines", "notches", "outer-notches", "none", "wire-ring", "unknown"]

#: Drawn so wide, mm, where the catalogue says nothing; no size is then written.
USUAL = MappingProxyType[Kind, float](
    {"splines": 23.0, "notches": 24.0, "outer-notches": 37.0, "none": 26.0, "wire-ring": 33.0, "unknown": 24.0}
)
COUNTED: tuple[Kind, ...] = ("splines", "notches", "outer-notches")
WIRE = 2.0


@dataclass(frozen=True, slots=True)
class Look:
    """How a fastening looks: what there is to grip, how many (the likeliest number first in doubt), how wide in mm.

    `counts` and `sizes` are the least and the greatest that are possible; None where the catalogue gives none.
    """

    kind: Kind
    count: int = 0
    counts: tuple[int, int] | None = None
    across: float = 0.0
    sizes: tuple[float, float] | None = None


UNKNOWN = Look("unknown", across=USUAL["unknown"])


def look_of(fastening: Fastening) -> Look:
    """The look of a fastening; `UNKNOWN` where the catalogue does not say enough to draw it honestly."""
    kind = _kind(fastening)
    if kind == "unknown":
        return UNKNOWN
    numbers = sorted(int(label) for label, share in _mix(fastening, "count").items() if share > 0)
    if kind in COUNTED and not (numbers and numbers[0] > 0):
        return UNKNOWN
    size = fastening.answers.get("size")
    sizes = _span(size) if isinstance(size, TrueSize) and kind != "wire-ring" else None
    across = sum(sizes) / 2 if sizes else USUAL[kind]
    if kind not in COUNTED:
        return Look(kind, across=across, sizes=sizes)
    return Look(kind, int(_likeliest(fastening, "count")), (numbers[0], numbers[-1]), across, sizes)


def fitting_of(look: Look, first: float = 0.0) -> Fitting:
    """The fitting in outline, turned so that its first spline or notch lies at an angle. An unknown one is a smooth
    ring: draw its outline only, never as a fitting."""
    match look.kind:
        case "splines":
            return splined(look.count, look.across, first)
        case "notches":
            return notched(look.count, look.across, first)
        case "outer-notches":
            return notched_outside(look.count, look.across, first)
        case "wire-ring":
            return wire_ring(look.across, WIRE)
        case "none" | "unknown":
            return smooth(look.across)


def _kind(fastening: Fastening) -> Kind:
    if fastening.broad or fastening.mistaken:
        return "unknown"
    found = _likeliest(fastening, "fitting")
    if found == "none":
        return "wire-ring" if _likeliest(fastening, "wire-ring") == "yes" else "none"
    return next((kind for kind in COUNTED if kind == found), "unknown")


def _mix(fastening: Fastening, question: str) -> dict[str, float]:
    truth = fastening.answers.get(question)
    if truth is None or isinstance(truth, TrueSize):
        return {}
    return dict(truth) if isinstance(truth, dict) else {truth: 1.0}


def _likeliest(fastening: Fastening, question: str) -> str:
    mix = _mix(fastening, question)
    return max(mix, key=lambda label: mix[label]) if mix else ""


def _span(size: TrueSize) -> tuple[float, float]:
    if size.mm is not None:
        return size.mm, size.mm
    return size.low or 0.0, size.high or 0.0


# --- drawn ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What lies behind a fitting: a face ring (its diameter, mm; 0 for none) and a sprocket with so many teeth."""

    face: float
    teeth: int

    @property
    def outer(self) -> float:
        """Diameter of everything together, mm."""
        return tip_diameter(self.teeth)


def surroundings_of(look: Look) -> Surroundings:
    """A face ring a little wider than the fitting, if that kind has one, and the smallest sprocket that clears it."""
    outer = fitting_of(look).outer
    face = 0.0 if look.kind in ("outer-notches", "wire-ring") else outer + max(5.0, 0.18 * outer)
    return Surroundings(face, sprocket_round((face or outer) + 2.0))


def draw_surroundings(sheet: Sheet, at: Point, around: Surroundings) -> None:
    """The sprocket and the face ring, in grey."""
    sheet.shape(at, sprocket(around.teeth), PALE)
    if around.face:
        sheet.shape(at, circle(around.face), GREY)


def draw_fitting(sheet: Sheet, at: Point, look: Look, first: float = 0.0) -> Fitting:
    """The fitting, pointed out, with the axle and its locknut in grey in its middle."""
    fitting = fitting_of(look, first)
    if look.kind == "wire-ring":
        sheet.shape(at, circle(fitting.across - 0.6), GREY)
        sheet.shape(at, ring(fitting.across - 0.9, fitting.inner + 0.9), DEEP, "none")
    else:
        sheet.shape(at, circle(fitting.across if look.kind == "splines" else fitting.inner), PAPER, "none")
    if look.kind == "unknown":
        sheet.dashed(circle(fitting.across), at)
    else:
        sheet.pointed_out(at, fitting.body)
    if fitting.recesses:
        sheet.shape(at, fitting.recesses, DEEP, INK)
    draw_axle(sheet, at, axle_inside(fitting.inner))
    return fitting


def draw_axle(sheet: Sheet, at: Point, axle: Axle) -> None:
    """An axle's end with its locknut, in grey."""
    sheet.shape(at, hexagon(axle.locknut), GREY)
    sheet.shape(at, circle(axle.across), DARK)
    sheet.shape(at, circle(axle.bore), PAPER)


def first_mark(sheet: Sheet, at: Point, fitting: Fitting) -> None:
    """A pointer at the first thing to count, with its number, where counting starts."""
    if not fitting.marks:
        return
    x, y = at[0], at[1] - fitting.outer / 2 - 0.004 * sheet.width
    half, tall = 0.016 * sheet.width, 0.03 * sheet.width
    sheet.shape((x, y), polygon([(0, 0), (-half, -tall), (half, -tall)]), INK, PAPER)
    sheet.words_over((x, y - tall - 0.006 * sheet.width), "1")


def turning(sheet: Sheet, at: Point, diameter: float, middle: float, way: str, span: float, head: float) -> None:
    """An arrow that runs along a circle round `at`, `span` degrees of it round the angle `middle`, clockwise or
    anticlockwise (`way`); `head` is its length as a share of the picture's width."""
    sign = 1 if way == "clockwise" else -1
    start, end = middle - sign * span / 2, middle + sign * span / 2
    swept = degrees(head * sheet.width / (diameter / 2))
    sheet.haloed(arc(diameter / 2, start, end - sign * 0.8 * swept), at, weight=0.01)
    sheet.arrow_head(on(at, diameter, end), polar(1, end - sign * (swept / 2 - 90)), head)


def on(at: Point, diameter: float, angle: float) -> Point:
    """The point on a circle round `at`, at an angle clockwise from the top."""
    x, y = polar(diameter / 2, angle)
    return at[0] + x, at[1] + y
