"""Lengths in mm out of quantities: units, radius and circumference, how it was measured, what cannot be.

Rules of this file: which lengths are plausible (the question's own limits), which slips of unit are asked
about, and how wide a hedge is. The worth of a last place is u; "about" widens by u/2, "just under" moves by u/2.
"""

import math
from dataclasses import dataclass

from triagebot.conversation.understanding.joining import Quantity
from triagebot.conversation.understanding.layout import Layout
from triagebot.identify.readings import BoundReading, SizeReading
from triagebot.topics.schema import Question

INCH = 25.4
#: No hedge and no coarse reading is wider than this, mm either way.
WIDEST = 2.5
#: A reading whose last place is worth more than this (mm) says so by its half-width, hedged or not.
COARSE = 2.0
#: Units that a number without one may be in when it cannot be mm; the likeliest result is proposed.
SLIPS_WITHOUT_UNIT = (10.0, INCH)
#: A lost decimal point ("230" for 23.0): proposed up to this many mm written.
LOST_POINT_AT_MOST = 350.0


@dataclass(frozen=True, slots=True)
class Length:
    """A plausible reading, or a proposal to ask about, or nothing that can be (both None)."""

    reading: SizeReading | BoundReading | None = None
    proposed: SizeReading | None = None


def measured(layout: Layout, q: Quantity, question: Question) -> Length:
    """The reading of quantity `q` for a size question."""
    means = instrument(layout, q)
    if not math.isfinite(q.value) or q.low < 0 or q.value <= 0:
        return Length()
    for factor, string in _shapes(layout, q, question):
        unit = q.unit if q.unit is not None else INCH if q.fraction and not q.ranged and q.value < 4 else 1.0
        scale = unit * factor
        way = "string" if string and means == "unknown" else means
        if _plausible(q, scale, question):
            return Length(reading=_reading(q, scale, question, way))
    if _shape(layout, q) in ("radius", "around"):
        return Length()
    return Length(proposed=_slip(q, question, means))


def _plausible(q: Quantity, scale: float, question: Question) -> bool:
    return question.least <= q.low * scale and q.high * scale <= question.most


def _reading(q: Quantity, scale: float, question: Question, means: str) -> SizeReading | BoundReading:
    mm = q.value * scale
    last_place = q.step * scale
    half = (q.high - q.low) / 2 * scale
    if not q.ranged:
        if q.hedge == "least":
            return BoundReading(question.id, low=round(mm, 3), means=means)
        if q.hedge == "most":
            return BoundReading(question.id, high=round(mm, 3), means=means)
        if q.hedge in ("under", "over"):
            half = min(last_place / 2, WIDEST)
            mm += half if q.hedge == "over" else -half
        elif q.hedge == "about" or last_place > COARSE:
            half = min(last_place / 2, WIDEST)
    return SizeReading(question.id, round(mm, 3), round(half, 3), means)


def _shape(layout: Layout, q: Quantity) -> str:
    """How the length was taken: radius, around, around-if-it-fits, or across (empty)."""
    clause = layout.spans[q.first].clause
    near = [
        (min(abs(i - q.first), abs(i - q.last)), m.subject if m.kind == "shape" else "")
        for i, span in enumerate(layout.spans)
        for m in span.meanings
        if (
            m.kind == "shape"
            and not _parted(layout, q, i)
            and (m.subject != "around-if-it-fits" or (span.clause == clause and 0 < i - q.last <= 2))
        )
        or (i == q.noun and m.kind == "noun" and not span.of("shape"))
    ]
    return min(near)[1] if near else ""


def _parted(layout: Layout, q: Quantity, place: int) -> bool:
    """Whether another statement begins between the number and what is behind it: "23 mm and the middle goes round"."""
    words, spans = layout.words, layout.spans
    between = range(q.last + 1, place)
    return any(spans[i].token.key in words.adding and spans[i + 1].token.key in words.beginning for i in between)


def _shapes(layout: Layout, q: Quantity, question: Question) -> list[tuple[float, bool]]:
    """Factors from what was measured to the diameter, likeliest first, and whether a string did it."""
    match _shape(layout, q):
        case "radius":
            return [(2.0, False)]
        case "around":
            return [(1 / math.pi, True)]
        case "around-if-it-fits":
            return [(1.0, False), (1 / math.pi, True)]
    return [(1.0, False)]


def _slip(q: Quantity, question: Question, means: str) -> SizeReading | None:
    """The likeliest length that was meant by one that cannot be: another unit or a lost decimal point."""
    unit = q.unit
    if unit is None:
        scales = [*SLIPS_WITHOUT_UNIT, 0.1]
    elif unit == 1.0:
        scales = [10.0, 0.1]
    elif unit == 10.0:
        scales = [1.0]
    else:
        return None
    middle = math.sqrt(question.least * question.most)
    fits = [
        s for s in scales
        if _plausible(q, s, question) and (s != 0.1 or (q.value <= LOST_POINT_AT_MOST and q.step >= 1))
    ]  # fmt: skip
    if not fits:
        return None
    scale = min(fits, key=lambda s: abs(math.log(q.value * s / middle)))
    return SizeReading(question.id, round(q.value * scale, 3), round((q.high - q.low) / 2 * scale, 3), means)


def instrument(layout: Layout, q: Quantity | None) -> str:
    """How it was measured: the means named nearest in the clause, else the only one in the message, else unknown."""
    named = [(i, s, m.subject) for i, s in enumerate(layout.spans) if s.meanings and (m := s.of("means"))]
    if not named:
        return "unknown"
    if q is not None:
        clause = layout.spans[q.first].clause
        near = [(min(abs(i - q.first), abs(i - q.last)), means) for i, span, means in named if span.clause == clause]
        if near:
            return min(near)[1]
    kinds = {means for _, _, means in named}
    if len(kinds) == 1:
        return kinds.pop()
    return "unknown"
