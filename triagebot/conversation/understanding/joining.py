"""Numbers of a message that make one together: ranges, sums and products, a pair, a length in two units.

Rules of this file: what may stand between two numbers of which one thing is said, and what they come to.
"""

from dataclasses import dataclass, replace
from typing import Literal

from triagebot.conversation.understanding.layout import Layout

#: "A millimetre under 23": such a difference is at most this many mm.
FARTHEST_OFF = 5.0
#: Of "7x3" the smaller number is of the front when it is at most this.
FRONTS = 3
#: "Wider than 23 mm" is a hedge on the number.
COMPARED = {"above": "least", "just-above": "over", "below": "most", "just-below": "under", "same": "about"}

Role = Literal["length", "noun", "bare", "elsewhere", "loose"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number or range as said, `first` to `last` in spans. `unit` is mm in one, None without a unit."""

    low: float
    high: float
    value: float
    step: float
    fraction: bool
    unit: float | None
    first: int
    last: int
    hedge: str = ""
    ranged: bool = False
    either: bool = False
    shy: bool = False
    role: Role = "loose"
    question: str | None = None
    noun: int | None = None
    total: bool = False
    share: int = 1
    summed: bool = False


def joined(layout: Layout, single: list[Quantity]) -> list[Quantity]:
    """Numbers that make one put together."""
    merged: list[Quantity] = []
    for later in single:
        both = _together(layout, merged[-1], later) if merged else None
        if both is None:
            merged.append(later)
        else:
            merged[-1] = both
    return merged


def counted_aloud(layout: Layout, single: list[Quantity]) -> list[Quantity]:
    """ "One two three four": the last of them alone."""
    kept: list[Quantity] = []
    run = 0
    for q in single:
        follows = bool(kept) and q.unit is None and q.value == kept[-1].value + 1
        beside = bool(kept) and all(is_light(layout, i) for i in range(kept[-1].last + 1, q.first))
        skips = run > 2 and beside and q.unit is None and q.value > kept[-1].value  # "1 2 3 ... 12"
        run = run + 1 if run and beside and (follows or skips) else int(q.value == 1 and q.unit is None)
        if run > 2:
            kept[-(2 if run == 3 else 1) :] = [replace(q, first=kept[-2 if run == 3 else -1].first, shy=False)]
        else:
            kept.append(q)
    return kept


def _together(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """Two numbers that make one: "2x10", "2 cm 3 mm", "a millimetre under 23", "5 big + 3 small", "11 or 12"."""
    if layout.spans[earlier.last].clause != layout.spans[later.first].clause:
        return None
    ways = (_pair, _compound, _offset, _product, _sum, _join)
    return next((joined for way in ways if (joined := way(layout, earlier, later)) is not None), None)


def _compound(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """2 cm 3 mm."""
    between = range(earlier.last + 1, later.first)
    if earlier.unit is None or later.unit is None or earlier.ranged or later.ranged:
        return None
    if not later.value * later.unit < earlier.unit or later.unit >= earlier.unit:
        return None
    if any(layout.spans[i].token.key not in layout.words.number_joints for i in between):
        return None
    value = earlier.value + later.value * later.unit / earlier.unit
    step = later.step * later.unit / earlier.unit
    return replace(earlier, low=value, high=value, value=value, step=step, last=later.last)


def _offset(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """Half a millimetre under 23."""
    if earlier.unit is None or not 0 < earlier.value * earlier.unit <= FARTHEST_OFF or later.ranged:
        return None
    if later.first != earlier.last + 2:
        return None
    span = layout.spans[earlier.last + 1]
    compared = span.of("comparison") or span.of("hedge")
    named = COMPARED.get(compared.subject, compared.subject) if compared else ""
    away = {"least": 1.0, "over": 1.0, "most": -1.0, "under": -1.0}.get(named)
    if away is None:
        return None
    unit = later.unit if later.unit is not None else 1.0
    value = later.value + away * earlier.value * earlier.unit / unit
    step = min(earlier.step * earlier.unit / unit, later.step)
    return replace(later, low=value, high=value, value=value, step=step, first=earlier.first, summed=True)


def _product(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """Four lots of three."""
    between = range(layout.spans[earlier.last].last + 1, layout.spans[later.first].first)
    if " ".join(layout.key(place) for place in between) not in layout.words.multiplying or later.unit is not None:
        return None
    value = earlier.value * later.value
    return replace(later, low=value, high=value, value=value, first=earlier.first, shy=False)


def _sum(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """11+11, "5 big + 3 small"."""
    between = [layout.spans[i] for i in range(earlier.last + 1, later.first)]
    both = len(between) == 1 and between[0].token.key in layout.words.number_joints
    twice = both and earlier.unit is None and earlier.value == later.value and layout.setting.open_kind == "count"
    added = 0 < len(between) <= 3 and between[-1].token.key == "+"
    if not (added or twice) or earlier.ranged or later.ranged:
        return None
    bare = len(between) == 1
    if layout.setting.open_kind not in ("count", "size") or later.unit is not None:
        return None
    if (bare and layout.setting.open_question in layout.words.pairs.values()) or any(s.meanings for s in between[1:-1]):
        return None
    value = earlier.value + later.value
    return replace(later, low=value, high=value, value=value, first=earlier.first, unit=earlier.unit, shy=False)


def _pair(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """ "2x10": the second number alone, bound to the question that such pairs are about."""
    if later.first - earlier.last != 2 or later.unit is not None:
        return None
    question = layout.words.pairs.get(layout.spans[earlier.last + 1].token.key)
    another = layout.setting.open_kind in ("count", "size") and layout.setting.open_question != question
    if another and earlier.value != 1:
        return None
    if (
        question not in layout.setting.questions
        or layout.spans[earlier.last].clause != layout.spans[later.first].clause
    ):
        return None
    if later.value <= FRONTS < earlier.value:  # "7x3"
        later = replace(earlier, last=later.last)
    return replace(later, first=earlier.first, role="noun", question=question, total=True)


def _join(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    spans = layout.spans
    between = list(range(earlier.last + 1, later.first))
    if earlier.ranged or not between or spans[earlier.last].clause != spans[later.first].clause:
        return None
    if spans[between[0]].of("noun") and len(between) > 1:
        between = between[1:]
    joints = [m.subject for i in between for m in spans[i].meanings if m.kind == "joint"]
    if len(between) > 2 or any(not is_light(layout, i) for i in between):
        return None
    spread = earlier.first > 0 and spans[earlier.first - 1].of("joint")
    if not joints and spread and spread.subject == "between":
        joints = ["to"]
    if not joints:
        return None
    unit = earlier.unit if earlier.unit is not None else later.unit
    late = later.value * (later.unit / unit if later.unit and unit else 1.0)
    value = earlier.value
    if joints[0] == "tolerance":
        return replace(earlier, low=value - late, high=value + late, unit=unit, last=later.last, ranged=True)
    low, high = min(value, late), max(value, late)
    counts = layout.setting.open_kind == "count" or bool(spans[min(later.last + 1, len(spans) - 1)].of("noun"))
    if joints[0] == "to" and low == 1 and unit is None and counts:  # they are numbered
        return replace(earlier, low=high, high=high, value=high, last=later.last, shy=False)
    if low == high:
        return replace(earlier, unit=unit, last=later.last)
    if joints[0] == "to" and late < value and unit is None and layout.setting.open_kind == "count":
        return replace(earlier, last=later.last, role="elsewhere")  # "10 to 7" is a time
    step = min(earlier.step, later.step)
    return replace(
        earlier, low=low, high=high, value=(low + high) / 2, step=step, unit=unit, last=later.last, ranged=True,
        either=joints[0] == "or", fraction=earlier.fraction or later.fraction,
    )  # fmt: skip


def is_light(layout: Layout, place: int) -> bool:
    """Whether the span may stand inside one quantity: joints, hedges and little words."""
    span = layout.spans[place]
    if span.of("joint") or span.of("hedge"):
        return True
    return not span.meanings and (
        span.token.key in layout.words.number_joints
        or span.token.key in layout.words.articles
        or span.token.kind == "mark"
    )
