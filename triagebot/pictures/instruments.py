"""A calliper and a rule in outline, in mm, as SVG path data: what people measure a fitting with.

This file decides the proportions of the two. They are those of the usual kinds, the calliper's jaws a
little shorter; what is measured is exact: the calliper stands open by its reading, and the rule has a mark every mm.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from triagebot.pictures.geometry import Point, circle, number, polygon

#: How far the large jaws reach below the beam and the small ones above it, and how high the beam is, mm.
LARGE_JAW, SMALL_JAW, BEAM = 18.0, 17.5, 5.5
#: Width of the head at the fixed jaw, of the slide, and what of the beam sticks out beyond the slide, mm.
HEAD, SLIDE, BEYOND = 6.5, 12.0, 2.5
#: Width of a jaw at its tip, of a small one at its foot, and how far the slide stands over the beam, mm.
TIP, FOOT, LIP = 1.5, 4.2, 1.8


@dataclass(frozen=True, slots=True)
class Calliper:
    """A calliper open by `reading`. The origin is on the fixed jaws' measuring faces, at the beam's upper edge.

    The large jaws hang below the beam and measure between their inner faces, the small ones stand above it and measure
    over their outer faces; all four faces lie at x = 0 and x = `reading`. Parts from back to front: `wheel` for the
    thumb, the `fixed` part with the beam, its `marks` (open lines), and the `slide`.
    """

    reading: float
    fixed: str
    marks: str
    slide: str
    wheel: str
    wheel_at: Point

    @property
    def left(self) -> float:
        """Where it ends on the left, mm."""
        return -HEAD

    @property
    def right(self) -> float:
        """Where it ends on the right, mm."""
        return self.reading + SLIDE + BEYOND


def calliper(reading: float) -> Calliper:
    """A calliper that reads so many mm; 10 at least, so that its small jaws stand clear of each other."""
    if reading < 10:
        raise ValueError(f"a calliper is drawn open by 10 mm at least, not {reading:g}")
    end, foot, bottom = reading + SLIDE + BEYOND, BEAM + LARGE_JAW, BEAM + 0.35 * LARGE_JAW
    fixed = polygon(
        [
            *((0, -SMALL_JAW), (TIP, -SMALL_JAW), (FOOT, -LIP), (FOOT, 0), (end, 0), (end, BEAM), (0, BEAM)),
            *((0, foot), (-TIP, foot), (-HEAD, bottom), (-HEAD, -LIP), (0, -LIP)),
        ]
    )
    here, back = reading, reading - FOOT
    slide = polygon(
        [
            *((here, -SMALL_JAW), (here - TIP, -SMALL_JAW), (back, -LIP), (back, BEAM + LIP), (here, BEAM + LIP)),
            *((here, foot), (here + TIP, foot), (here + HEAD, bottom), (here + HEAD, BEAM + LIP)),
            *((here + SLIDE, BEAM + LIP), (here + SLIDE, -LIP), (here, -LIP)),
        ]
    )
    marks = " ".join(_marks(FOOT + 1.5, back - 1, BEAM))
    return Calliper(reading, fixed, marks, slide, circle(4.4), (here + 0.75 * SLIDE, BEAM + LIP))


def _marks(first: float, last: float, below: float) -> Iterator[str]:
    """Marks on a beam, two mm apart, up from its lower edge."""
    for place in range(int((last - first) // 2) + 1):
        yield f"M{number(first + 2 * place)} {number(below)} v{number(-0.42 * below)}"


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule that lies below its marked edge, along y = 0, its zero at x = 0. Lengths are those of the drawing.

    `body` is its outline, `marks` its lines for mm, 5 mm and 10 mm (open), `numbers` what stands under every tenth
    and where its middle is.
    """

    body: str
    marks: str
    numbers: tuple[tuple[float, str], ...]
    left: float
    right: float


#: Lengths of a rule's marks for 1, 5 and 10 mm, and what it is longer than its scale at both ends, in its own mm.
MARKS, ENDS = (1.1, 1.7, 2.4), 2.5


def rule(length: int, scale: float, height: float) -> Rule:
    """A rule of so many mm, drawn `scale` times as large, so high."""
    left, right = -ENDS * scale, (length + ENDS) * scale
    marks = []
    for place in range(length + 1):
        tall = MARKS[2] if place % 10 == 0 else MARKS[1] if place % 5 == 0 else MARKS[0]
        marks.append(f"M{number(place * scale)} 0 v{number(tall * scale)}")
    body = polygon([(left, 0), (right, 0), (right, height), (left, height)])
    numbers = tuple((place * scale, str(place)) for place in range(0, length + 1, 10))
    return Rule(body, " ".join(marks), numbers, left, right)
