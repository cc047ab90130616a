"""Coins and cards held against the part: "a bit wider than a 1-euro coin", "a quarter fits inside", "between a and b".

Rules of this file: what each comparison is worth in mm, and which way round it was said.
"""

from dataclasses import dataclass

from triagebot.conversation.understanding.layout import Layout
from triagebot.conversation.understanding.phrases import longest
from triagebot.identify.readings import BoundReading, SizeReading
from triagebot.topics.schema import Question

#: "A bit wider" is up to twice this, mm; "the same" is this close either way.
A_BIT, SAME = 0.75, 0.5
#: How many spans may stand between a comparison and the thing compared with.
REACH = 3
#: What a comparison becomes when the thing comes first ("the coin is wider", "the coin fits inside") ...
_THING_FIRST = {
    "above": "below", "just-above": "just-below", "below": "above", "just-below": "just-above",
    "same": "same", "holds": "above", "covers": "below",
}  # fmt: skip
#: ... and when the part does ("it fits inside a coin's outline", "it covers the coin").
_PART_FIRST = {"holds": "below", "covers": "above"}
_DENIED = {
    "above": "below", "just-above": "below", "below": "above", "just-below": "above", "same": "", "": "",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Compared:
    """A reading from a comparison; `spans` are used up by it, `first` and `last` are its spans."""

    reading: SizeReading | BoundReading
    first: int
    last: int
    spans: frozenset[int]


def compared(layout: Layout, question: Question) -> list[Compared]:
    """Every comparison with a known thing, as readings of a size question."""
    gauges = sorted(
        (i, mm) for i in range(len(layout.spans)) if (mm := _gauge_mm(layout, i) or _shared_mm(layout, i)) is not None
    )
    found: list[Compared] = []
    done: set[int] = set()
    for at, (place, (low, high)) in enumerate(gauges):
        if place in done:
            continue
        pair = _pair(layout, gauges, at, question)
        if pair is not None:
            other, (low2, high2) = pair
            ends = sorted(((low + high) / 2, (low2 + high2) / 2))
            reading = _size(question, sum(ends) / 2, (ends[1] - ends[0]) / 2)
            found.append(Compared(reading, place, other, frozenset(range(place, other + 1))))
            done |= {place, other}
            continue
        one = _one(layout, place, low, high, question)
        if one is not None:
            found.append(one)
            done.add(place)
    return found


def _gauge_mm(layout: Layout, place: int) -> tuple[float, float] | None:
    """Smallest and largest diameter that the words at `place` may mean (some coins share a name)."""
    known = layout.setting.gauges
    sizes = [known[m.subject] for m in layout.spans[place].meanings if m.kind == "gauge" and m.subject in known]
    return (min(sizes), max(sizes)) if sizes else None


def _shared_mm(layout: Layout, place: int) -> tuple[float, float] | None:
    """What a number stands for that shares the coin's words: the 1 of "between a 1 and a 2 euro coin"."""
    spans = layout.spans
    if spans[place].token.number is None or spans[place].meanings:
        return None
    lead = [m for s in spans[max(0, place - 2) : place] for m in s.meanings]
    if not any(m.kind == "joint" and m.subject == "between" for m in lead):
        return None
    for other in range(place + 1, min(place + 4, len(spans))):
        ahead = spans[other]
        if ahead.clause == spans[place].clause and _gauge_mm(layout, other) and layout.tokens[ahead.first].number:
            keys = [spans[place].token.key, *(layout.key(t) for t in range(ahead.first + 1, ahead.last + 1))]
            numbers = [True] + [False] * (len(keys) - 1)
            end, meanings = longest(layout.words.root, keys, 0, len(keys), numbers, None, False)
            known = layout.setting.gauges
            sizes = [known[m.subject] for m in meanings if m.kind == "gauge" and m.subject in known]
            return (min(sizes), max(sizes)) if sizes and end == len(keys) else None
    return None


def _size(question: Question, mm: float, half: float) -> SizeReading:
    return SizeReading(question.id, round(mm, 3), round(half, 3), "gauge")


def _pair(
    layout: Layout, gauges: list[tuple[int, tuple[float, float]]], at: int, question: Question
) -> tuple[int, tuple[float, float]] | None:
    """The second thing of "between a quarter and a half dollar"."""
    if at + 1 >= len(gauges):
        return None
    place, other = gauges[at][0], gauges[at + 1][0]
    spans = layout.spans
    lead = [m.subject for s in spans[max(0, place - 2) : place] for m in s.meanings if m.kind == "joint"]
    if "between" not in lead or other - place > 3 or spans[place].clause != spans[other].clause:
        return None
    if _may_be_money(layout, other, question):
        return None
    return gauges[at + 1]


def _one(layout: Layout, place: int, low: float, high: float, question: Question) -> Compared | None:
    relation, at = _relation(layout, place)
    if at < place and layout.spans[at].of("hedge") and _may_be_money(layout, place, question):
        return None
    if relation is None:
        alone = layout.setting.open_question == question.id and _is_whole_answer(layout, place)
        return (
            Compared(_size(question, (low + high) / 2, SAME + (high - low) / 2), place, place, frozenset({place}))
            if alone
            else None
        )
    first, last = min(place, at), max(place, at)
    used = frozenset(range(first, last + 1))
    spare = (high - low) / 2
    middle = (low + high) / 2
    offset = _offset(layout, first) if at < place else None
    if offset is not None and relation in ("above", "below", "just-above", "just-below"):
        mm = middle + (offset if relation.endswith("above") else -offset)
        return Compared(_size(question, mm, SAME + spare), first - 2, last, used | {first - 1, first - 2})
    match relation:
        case "just-above":
            reading: SizeReading | BoundReading = _size(question, middle + A_BIT, A_BIT + spare)
        case "just-below":
            reading = _size(question, middle - A_BIT, A_BIT + spare)
        case "same":
            reading = _size(question, middle, SAME + spare)
        case "above":
            reading = BoundReading(question.id, low=low, means="gauge")
        case "below":
            reading = BoundReading(question.id, high=high, means="gauge")
        case _:
            return None
    return Compared(reading, first, last, used)


def _may_be_money(layout: Layout, place: int, question: Question) -> bool:
    """Whether "less than 2 euros" may be a price: no size is asked for, and a sum is said without the word for coin."""
    span = layout.spans[place]
    if layout.setting.open_question == question.id or layout.tokens[span.first].number is None:
        return False
    last = layout.key(span.last)
    _, meanings = longest(layout.words.root, [last], 0, 1, [False], None, False)
    return any(m.kind == "elsewhere" for m in meanings)


def _relation(layout: Layout, place: int) -> tuple[str | None, int]:
    """The comparison that goes with the thing at `place`, turned so that it speaks of the part, and where it stands."""
    spans = layout.spans
    for back in range(place - 1, max(-1, place - 1 - REACH), -1):
        if spans[back].clause != spans[place].clause or spans[back].of("break") or _gauge_mm(layout, back):
            break
        if meaning := spans[back].of("comparison"):
            relation = _PART_FIRST.get(meaning.subject, meaning.subject)
            return (_DENIED[relation] if _denied(layout, back) else relation), back
        if hedge := spans[back].of("hedge"):
            relation = {"under": "just-below", "over": "just-above", "least": "above", "most": "below"}.get(
                hedge.subject, ""
            )
            if relation:
                return relation, back
    steps = 0
    for ahead in range(place + 1, len(spans)):
        little = not spans[ahead].meanings and spans[ahead].token.key in layout.words.fillers
        steps += not little
        if steps > REACH + 1 or spans[ahead].clause != spans[place].clause or spans[ahead].of("break"):
            break
        if meaning := spans[ahead].of("comparison"):
            between = _between(layout, place, ahead)
            part_first = any(layout.key(t) in layout.words.measured_parts for t in between)
            # "2p: wider" answers which coin, and what the part is; "2p fits" says what the coin does
            part_first |= not between and _is_asked(layout) and meaning.subject not in _PART_FIRST
            relation = _of_the_part(meaning.subject) if part_first else _THING_FIRST[meaning.subject]
            return (_DENIED[relation] if _denied(layout, ahead) else relation), ahead
    return _elsewhere(layout, place)


def _is_asked(layout: Layout) -> bool:
    """Whether a size is what is asked."""
    question = layout.setting.questions.get(layout.setting.open_question or "")
    return question is not None and question.kind == "size"


def _between(layout: Layout, first: int, last: int) -> range:
    """The tokens between two spans."""
    return range(layout.spans[first].last + 1, layout.spans[last].first)


def _of_the_part(comparison: str) -> str:
    return _PART_FIRST.get(comparison, comparison)


def _elsewhere(layout: Layout, place: int) -> tuple[str | None, int]:
    """The one comparison of a message that names one thing, in another clause ("a 2p. Wider."): while the size is asked
    for it is the part that is wider, unless the clause speaks of the thing first ("the coin is wider")."""
    spans = layout.spans
    things = [n for n in range(len(spans)) if _gauge_mm(layout, n)]
    compared = [n for n, span in enumerate(spans) if span.of("comparison")]
    if not _is_asked(layout) or things != [place] or len(compared) != 1:
        return None, place
    at = compared[0]
    clause = [span for span in spans[:at] if span.clause == spans[at].clause]
    before = [layout.key(t) for span in clause for t in range(span.first, span.last + 1)]
    thing_first = any(key in layout.words.compared_things for key in before)
    thing_first &= not any(key in layout.words.measured_parts for key in before)
    comparison = spans[at].of("comparison")
    subject = comparison.subject if comparison is not None else ""
    relation = _THING_FIRST[subject] if thing_first else _of_the_part(subject)
    return (_DENIED[relation] if _denied(layout, at) else relation), at


def _denied(layout: Layout, place: int) -> bool:
    for back in range(place - 1, max(-1, place - 4), -1):
        span = layout.spans[back]
        if span.clause != layout.spans[place].clause or span.of("break"):
            return False
        if span.of("negation"):
            return True
    return False


def _offset(layout: Layout, comparison: int) -> float | None:
    """2 in "2 mm wider than": the length right before the comparison, mm."""
    if comparison < 2:
        return None
    number, unit = (
        layout.spans[comparison - 2].token.number,
        layout.words.units.get(layout.spans[comparison - 1].token.key),
    )
    if number is None or unit is None or not 0 < number.value * unit <= 15:
        return None
    return number.value * unit


def _is_whole_answer(layout: Layout, place: int) -> bool:
    words = layout.words
    return all(
        i == place or span.of("hedge") or span.of("means") or (not span.meanings and span.token.key in words.fillers)
        for i, span in enumerate(layout.spans)
    )
