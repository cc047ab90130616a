"""Numbers of a message with their units, ranges and hedges; `roles` decides which question each of them belongs to.

Rules of this file: which words behind a number are its unit, and which beside it hedge it.
"""

from dataclasses import replace

from triagebot.conversation.understanding.joining import COMPARED, Quantity, counted_aloud, joined
from triagebot.conversation.understanding.layout import Layout
from triagebot.conversation.understanding.roles import with_roles

#: More numbers than this are no answer; whatever a message holds, it is read in good time.
MOST_NUMBERS = 24
#: What a bound becomes when it is denied.
_TURNED = {"least": "most", "most": "least"}


def quantities(layout: Layout, used: frozenset[int]) -> list[Quantity]:
    """Every number that no phrase has used up, with its role. `used` are spans that a comparison has taken."""
    single = _single(layout, used)
    if len(single) > MOST_NUMBERS:
        return []
    found = joined(layout, counted_aloud(layout, single))
    found = [replace(q, hedge="" if q.summed else _hedge(layout, q)) for q in found]
    return with_roles(layout, found)


def _single(layout: Layout, used: frozenset[int]) -> list[Quantity]:
    found = []
    for place, span in enumerate(layout.spans):
        number = span.token.number
        if number is None or span.meanings or place in used:
            continue
        unit, last = _unit(layout, place)
        shy = number.spelt and layout.plain.text[span.token.start : span.token.end] in layout.words.shy
        found.append(
            Quantity(
                number.low, number.high, number.value, number.step, number.fraction, unit, place, last,
                ranged=number.low < number.high, either=number.low < number.high, shy=shy,
            )
        )  # fmt: skip
    return found


def _unit(layout: Layout, place: int) -> tuple[float | None, int]:
    spans, words = layout.spans, layout.words
    if place + 1 >= len(spans):
        return None, place
    after = spans[place + 1]
    parted = f"{after.token.key}{layout.key(after.last + 1)}"  # "23m m", "23 milli metres"
    if parted in words.units and place + 2 < len(spans) and spans[place + 2].clause == spans[place].clause:
        return words.units[parted], place + 2
    if after.first != after.last or after.token.key not in words.units:
        return None, place
    clause = after.clause == spans[place].clause
    key = after.token.key
    if key == '"' and (not after.token.touching or layout.key(spans[place].first - 1) == '"'):
        return None, place
    if key in words.doubtful_units and not _ends_length(layout, place + 2, after.clause):
        return None, place
    return (words.units[key], place + 1) if clause else (None, place)


def _ends_length(layout: Layout, place: int, clause: int) -> bool:
    if place >= len(layout.spans) or layout.spans[place].clause != clause:
        return True
    span = layout.spans[place]
    return any(m.kind in ("noun", "hedge", "joint", "shape", "means", "elsewhere", "break") for m in span.meanings)


def _denied(layout: Layout, place: int, quantity: Quantity) -> bool:
    """Whether the bound at `place` before the number is denied: "can't be more than 12"."""
    spans = layout.spans
    if place > quantity.first or spans[place].of("hedge") is None or spans[place].token.key in layout.words.denials:
        return False
    before = [span for span in spans[max(0, place - 3) : place] if span.clause == spans[place].clause]
    return _TURNED.keys() >= {m.subject for m in spans[place].meanings if m.kind == "hedge"} and any(
        span.of("negation") for span in before
    )


def _hedge(layout: Layout, quantity: Quantity) -> str:
    spans = layout.spans
    for place in (quantity.first - 1, quantity.first - 2, quantity.last + 1):
        if 0 <= place < len(spans) and spans[place].clause == spans[quantity.first].clause:
            hedge = spans[place].of("hedge")
            if hedge:
                return _TURNED.get(hedge.subject, "") if _denied(layout, place, quantity) else hedge.subject
            comparison = spans[place].of("comparison")
            if comparison and place < quantity.first and comparison.subject in COMPARED:
                return COMPARED[comparison.subject]
    return ""
