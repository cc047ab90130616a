"""The outline that somebody chose, as a length with its uncertainty.

Decided here and nowhere else: how well a fitting is compared with a line. Standard uncertainties add in squares
(JCGM 100:2008, 5.1.2):

- the eye: each edge is judged to ±`EDGE` mm, rectangular, and a diameter has two;
- the distance: an eye `EYE` mm away sees a fitting that stands up to a gap nearer than the line wider, by up to
  gap/`EYE`, rectangular. That it is always wider is not corrected for, so the whole root mean square counts. Before a
  screen the gap is up to `GAP` mm, since the axle stands out; paper with a hole lies on the fitting, without a gap;
- the scale: what the page says about its pixels a mm, or the printer's 0.1 mm in 100 mm;
- an outline whose diameter the catalogue leaves open: rectangular between its two lines.

Two outlines are told apart if they differ by more than twice the standard uncertainty of their difference.
"""

from dataclasses import dataclass
from math import sqrt

from triagebot.gauge.outlines import SIZE, Outline, kinds_of, screen_outlines
from triagebot.identify import SizeReading
from triagebot.topics import Topic, size_noise

EDGE = 0.35
GAP, EYE = 10.0, 300.0
#: Standard uncertainty of a printer's scale, as a share of it: 0.1 mm in 100 mm.
PRINTED = 0.001


@dataclass(frozen=True, slots=True)
class OutlineReading:
    """The question that is answered, the diameter, mm, and its standard uncertainty, mm."""

    question: str
    mm: float
    uncertainty_mm: float


def reading_from_outline(
    topic: Topic, outline_id: str, px_per_mm_uncertainty: float, gap_mm: float = GAP
) -> OutlineReading:
    """The reading that a chosen outline stands for. `px_per_mm_uncertainty` is the standard uncertainty of the scale
    as a share of it (a card of 85.6 mm set to ±0.5 mm: 0.0034), `gap_mm` how far the fitting may be from the line.
    Raises KeyError for an unknown outline, ValueError for a share or a gap that cannot be."""
    if not gap_mm >= 0:
        raise ValueError(f"a gap is 0 mm or more, not {gap_mm}")
    if not 0 <= px_per_mm_uncertainty < 1:
        raise ValueError(f"the uncertainty of a scale is a share from 0 to 1, not {px_per_mm_uncertainty}")
    low, high = {kind.id: kind.sizes for kind in kinds_of(topic)}[outline_id]
    mm = (low + high) / 2
    eye = EDGE * sqrt(2 / 3)
    distance = mm * gap_mm / EYE / sqrt(3)
    scale = mm * px_per_mm_uncertainty
    return OutlineReading(SIZE, mm, sqrt(eye**2 + distance**2 + scale**2 + (high - low) ** 2 / 12))


def not_told_apart(topic: Topic) -> tuple[tuple[Outline, ...], ...]:
    """Outlines of one kind and number that paper with a hole cannot tell apart, each group from the smallest on."""
    groups: list[list[Outline]] = []
    for outline in screen_outlines(topic):
        last = groups[-1][-1] if groups else None
        exact = outline.low_mm == outline.high_mm
        if (
            last
            and exact
            and (last.kind, last.counts) == (outline.kind, outline.counts)
            and _alike(topic, last, outline)
        ):
            groups[-1].append(outline)
        else:
            groups.append([outline])
    return tuple(tuple(group) for group in groups if len(group) > 1)


def _alike(topic: Topic, one: Outline, other: Outline) -> bool:
    squares = sum(reading_from_outline(topic, each.id, PRINTED, 0.0).uncertainty_mm ** 2 for each in (one, other))
    return abs(one.diameter_mm - other.diameter_mm) <= 2 * sqrt(squares)


def expanded_mm(topic: Topic, reading: OutlineReading, means: str) -> float:
    """The ± shown for an outline that was chosen by `means`, in mm: twice the standard uncertainty of the reading, and
    never less than the instrument allows. 19 of 20 readings lie within it."""
    noise = size_noise(topic.flow)
    return 2 * max(reading.uncertainty_mm, noise.means.get(means, max(noise.means.values())))


def size_reading(topic: Topic, reading: OutlineReading, means: str) -> SizeReading:
    """The same as evidence, measured by `means` (an instrument of the topic's). What the reading is less sure of than
    the instrument is at its best becomes the width of a range."""
    noise = size_noise(topic.flow)
    deviation = noise.means.get(means, max(noise.means.values()))
    half = sqrt(3 * max(0.0, reading.uncertainty_mm**2 - deviation**2))
    return SizeReading(reading.question, reading.mm, round(half, 3), means)
