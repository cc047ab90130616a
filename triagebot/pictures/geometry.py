"""Outlines of fittings and of what stands round them, in mm, as SVG path data round the origin.

This file decides the proportions that the catalogue does not give (how deep a spline is, how wide a
notch), chosen so that each can be told and counted on a phone. What the catalogue does give is exact: the number of
splines or notches, and the diameter across them.

Angles are degrees clockwise from twelve o'clock, since that is how people count round a wheel; y points down, as in
SVG. Outlines with a hole are to be filled by the even-odd rule.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import asin, cos, degrees, pi, radians, sin, sqrt

#: Pitch of a bicycle chain, mm (ISO 9633), and the usual diameter of its rollers (from memory; only looks hang on it).
CHAIN_PITCH = 12.7
ROLLER = 7.75

Point = tuple[float, float]


def number(value: float) -> str:
    """A length as it stands in a picture: to a thousandth of a mm, without idle zeros, the same on every machine."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def polar(radius: float, angle: float) -> Point:
    """The point at a distance (mm) from the centre, at an angle clockwise from the top."""
    return radius * sin(radians(angle)), -radius * cos(radians(angle))


def spot(point: Point) -> str:
    """A point as path data."""
    return f"{number(point[0])} {number(point[1])}"


def polygon(points: Iterable[Point]) -> str:
    """A closed outline with straight sides."""
    return f"M{' L'.join(spot(point) for point in points)}Z"


def circle(diameter: float) -> str:
    """A full circle."""
    r = number(diameter / 2)
    return f"M0 -{r} A{r} {r} 0 1 1 0 {r} A{r} {r} 0 1 1 0 -{r}Z"


def ring(outer: float, inner: float) -> str:
    """The ring between two circles, diameters in mm."""
    return circle(outer) + circle(inner)


def arc(radius: float, start: float, end: float) -> str:
    """An open arc, clockwise when `end` is the greater angle; less than a full turn."""
    r = number(radius)
    large, clockwise = int(abs(end - start) > 180), int(end > start)
    return f"M{spot(polar(radius, start))} A{r} {r} 0 {large} {clockwise} {spot(polar(radius, end))}"


def sector(outer: float, inner: float, start: float, end: float) -> str:
    """The part of a ring (diameters, mm) between two angles, clockwise and less than a full turn."""
    big, small = number(outer / 2), number(inner / 2)
    large = int(end - start > 180)
    return (
        f"M{spot(polar(outer / 2, start))} A{big} {big} 0 {large} 1 {spot(polar(outer / 2, end))} "
        f"L{spot(polar(inner / 2, end))} A{small} {small} 0 {large} 0 {spot(polar(inner / 2, start))}Z"
    )


def hexagon(across_flats: float) -> str:
    """A nut seen from its end."""
    return polygon(polar(across_flats / sqrt(3), 30 + 60 * corner) for corner in range(6))


def places(count: int, first: float = 0.0) -> tuple[float, ...]:
    """The angles of evenly spread things, from that of the first one; 0 is at the top."""
    return tuple(first + 360 * place / count for place in range(count))


@dataclass(frozen=True, slots=True)
class Step:
    """A stretch of a toothed outline that stands proud: where its middle is, and half its width at foot and tip."""

    angle: float
    half_foot: float
    half_tip: float


def toothed(base: float, tip: float, steps: Sequence[Step]) -> str:
    """A closed outline that runs along a base circle and goes over to a tip circle at every step (diameters, mm).

    The tip may be the larger circle (splines on a body) or the smaller one (splines in a hole).
    """
    foot, top = number(base / 2), number(tip / 2)
    first, last = steps[0], steps[-1]
    path = [f"M{spot(polar(base / 2, first.angle - first.half_foot))}"]
    for here, there in pairwise((*steps, first)):
        path.append(f"L{spot(polar(tip / 2, here.angle - here.half_tip))}")
        path.append(f"A{top} {top} 0 0 1 {spot(polar(tip / 2, here.angle + here.half_tip))}")
        path.append(f"L{spot(polar(base / 2, here.angle + here.half_foot))}")
        gap = there.angle - there.half_foot - here.angle - here.half_foot + (360 if here is last else 0)
        path.append(f"A{foot} {foot} 0 {int(gap > 180)} 1 {spot(polar(base / 2, there.angle - there.half_foot))}")
    return " ".join(path) + "Z"


def even_steps(count: int, share: float = 0.5, taper: float = 0.8, first: float = 0.0) -> tuple[Step, ...]:
    """Evenly spread steps that take up `share` of the circle at their foot, narrower at the tip by `taper`."""
    half = 180 / count * share
    return tuple(Step(angle, half, half * taper) for angle in places(count, first))


# --- fittings ---------------------------------------------------------------------------------------------------------

#: How far splines stand into the hole, as a share of the diameter across their grooves, and at most, mm.
SPLINE_DEPTH, DEEPEST_SPLINE = 0.075, 2.2
#: Walls, as shares of the fitting's diameter: outside the splines, of a notched face, of a ring notched outside.
SPLINED_WALL, NOTCHED_WALL, RING_WALL = 0.09, 0.17, 0.15
#: The widest notch, mm, and the largest share of the circle that notches take up.
WIDEST_NOTCH, NOTCHED_SHARE = 5.0, 0.42


@dataclass(frozen=True, slots=True)
class Fitting:
    """A fitting in outline: `body` is the part that a remover grips, `recesses` are slots in its face.

    Diameters in mm: `across` is what a calliper reads, `outer` and `inner` bound everything drawn. `marks` are the
    angles of the things to count.
    """

    body: str
    recesses: str
    across: float
    outer: float
    inner: float
    marks: tuple[float, ...]


def splined(count: int, across: float, first: float = 0.0) -> Fitting:
    """A ring with splines round its hole; `across` is measured over the bottoms of the grooves."""
    depth = min(SPLINE_DEPTH * across, DEEPEST_SPLINE)
    outer, tips = across * (1 + 2 * SPLINED_WALL), across - 2 * depth
    hole = toothed(across, tips, even_steps(count, min(0.5, count * 0.04), first=first))
    return Fitting(circle(outer) + hole, "", across, outer, tips, places(count, first))


def notched(count: int, across: float, first: float = 0.0) -> Fitting:
    """A ring with slots across its face; `across` is its outer diameter."""
    inner = across * (1 - 2 * NOTCHED_WALL)
    width = min(WIDEST_NOTCH, 0.17 * across, NOTCHED_SHARE * pi * inner / count)
    slots = "".join(_slot(across, inner, width, angle) for angle in places(count, first))
    return Fitting(ring(across, inner), slots, across, across, inner, places(count, first))


def notched_outside(count: int, across: float, first: float = 0.0) -> Fitting:
    """A ring with notches in its outside edge; `across` is its outer diameter."""
    inner, depth = across * (1 - 2 * RING_WALL), across * RING_WALL * 0.45
    share = min(NOTCHED_SHARE, count * WIDEST_NOTCH / (pi * across))
    edge = toothed(across, across - 2 * depth, even_steps(count, share, taper=0.85, first=first))
    return Fitting(edge + circle(inner), "", across, across, inner, places(count, first))


def smooth(across: float) -> Fitting:
    """A ring that gives a tool nothing to grip."""
    inner = across * (1 - 2 * NOTCHED_WALL)
    return Fitting(ring(across, inner), "", across, across, inner, ())


#: Half the gap between the ends of a wire ring, degrees, and the angle at which the gap lies.
HALF_GAP, GAP_AT = 11.0, 35.0


def wire_ring(across: float, wire: float) -> Fitting:
    """A ring of round wire with one gap; `across` is its outer diameter."""
    body = sector(across, across - 2 * wire, GAP_AT + HALF_GAP, GAP_AT + 360 - HALF_GAP)
    return Fitting(body, "", across, across, across - 2 * wire, ())


def _slot(outer: float, inner: float, width: float, angle: float) -> str:
    """A slot with parallel sides across a ring, its ends on the ring's two circles."""
    big, small = outer / 2, inner / 2
    far, near = degrees(asin(width / 2 / big)), degrees(asin(width / 2 / small))
    return (
        f"M{spot(polar(big, angle - far))} A{number(big)} {number(big)} 0 0 1 {spot(polar(big, angle + far))} "
        f"L{spot(polar(small, angle + near))} "
        f"A{number(small)} {number(small)} 0 0 0 {spot(polar(small, angle - near))}Z"
    )


# --- what stands round them -------------------------------------------------------------------------------------------


def pitch_diameter(teeth: int, pitch: float = CHAIN_PITCH) -> float:
    """Diameter of the circle on which a chain's pins lie: p / sin(180°/z)."""
    return pitch / sin(pi / teeth)


def tip_diameter(teeth: int) -> float:
    """About the smallest tip diameter in the usual tooth form: p(1 − 1.6/z) less a roller over the pitch diameter."""
    return pitch_diameter(teeth) + CHAIN_PITCH * (1 - 1.6 / teeth) - ROLLER


def root_diameter(teeth: int) -> float:
    """Diameter of the circle that the seats of the rollers touch from outside."""
    return pitch_diameter(teeth) - ROLLER


def sprocket(teeth: int) -> str:
    """A sprocket for bicycle chain, with roller seats, straight flanks and flat tips: a drawing, no pattern to cut."""
    pitch_radius, seat = pitch_diameter(teeth) / 2, ROLLER / 2
    half_seat = (140 - 90 / teeth) / 2
    tip_radius = tip_diameter(teeth) / 2
    half_tip = degrees(0.9 / tip_radius)
    path: list[str] = []
    for angle in places(teeth):
        x, y = polar(pitch_radius, angle)
        ends = []
        for side in (half_seat, -half_seat):
            dx, dy = polar(seat, angle + 180 + side)
            ends.append((x + dx, y + dy))
        before, after = (polar(tip_radius, angle + 180 / teeth + side) for side in (-half_tip, half_tip))
        start, end = ends
        path.append(f"{'L' if path else 'M'}{spot(start)} A{number(seat)} {number(seat)} 0 0 0 {spot(end)}")
        path.append(f"L{spot(before)} A{number(tip_radius)} {number(tip_radius)} 0 0 1 {spot(after)}")
    return " ".join(path) + "Z"


def sprocket_round(diameter: float) -> int:
    """The number of teeth of the smallest sprocket whose roller seats clear a circle of this diameter, 11 at least."""
    teeth = 11
    while root_diameter(teeth) < diameter:
        teeth += 1
    return teeth


@dataclass(frozen=True, slots=True)
class HubBody:
    """The body that sprockets sit on, seen from its end: outline, its largest and smallest diameters, its splines."""

    outline: str
    outer: float
    inner: float
    splines: tuple[Step, ...]


def nine_with_one_narrow() -> HubBody:
    """Nine shallow splines, the first of them half as wide as the rest."""
    rest = 11.5
    splines = tuple(Step(angle, *((rest / 2, rest / 2 - 1) if not angle else (rest, rest - 1))) for angle in places(9))
    return HubBody(toothed(31.0, 34.5, splines), 34.5, 31.0, splines)


def eight_deep() -> HubBody:
    """Eight splines, all alike, about twice as deep."""
    splines = even_steps(8, 0.45, taper=0.62)
    return HubBody(toothed(26.5, 34.5, splines), 34.5, 26.5, splines)


@dataclass(frozen=True, slots=True)
class Axle:
    """The end of an axle and its locknut, diameters in mm; they belong to the axle and are never the fitting."""

    across: float
    bore: float
    locknut: float

    @property
    def corners(self) -> float:
        """The locknut's diameter over its corners."""
        return self.locknut * 2 / sqrt(3)


#: A usual rear axle, M10 and hollow, with a locknut 17 mm across the flats.
USUAL_AXLE = Axle(10.0, 5.2, 17.0)


def axle_inside(inner: float) -> Axle:
    """The usual axle, made smaller where it would not leave a clear gap inside a fitting (diameter, mm)."""
    scale = min(1.0, inner * 0.84 / USUAL_AXLE.corners)
    return Axle(USUAL_AXLE.across * scale, USUAL_AXLE.bore * scale, USUAL_AXLE.locknut * scale)


def chord(diameter: float, offset: float) -> float:
    """Length of a straight line across a circle that passes the centre at a distance, mm."""
    return 2 * sqrt(max(0.0, (diameter / 2) ** 2 - offset**2))
