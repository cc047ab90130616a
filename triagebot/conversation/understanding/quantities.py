"""Numbers of a message with their units, ranges and hedges, and which question each of them belongs to.

Rules of this file (the first that fits wins): a number in front of something else (years, euros, a tyre) is not
about the part; one with a unit of length is a size; one beside a noun counts or measures that; a bare one right
after a correction takes the place of the number before it; a bare one answers the open question.
"""

import re
from dataclasses import dataclass, replace
from typing import Literal

from triagebot.conversation.understanding.layout import Layout, Span

#: From a noun back to its number or on to it, this many words may stand between ("splines: about 12").
REACH = 3
#: What owns a number stands at most this many words before it.
FAR = 16
_CURRENCY = frozenset("$\u20ac\u00a3\u00a5")
#: More bare numbers than this in a message are not an answer.
MOST_BARE = 4
#: Beside this many words that say something else at most, a bare number answers the open question.
STRAY = 1
#: What looks like program code or mark-up is not counting.
_CODE = frozenset("<>{}=\\")
_CALL = re.compile(r"[a-z_]\(\w*\)")

#: "Wider than 23 mm" is a hedge on the number.
_COMPARED = {"above": "least", "just-above": "over", "below": "most", "just-below": "under", "same": "about"}

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


def quantities(layout: Layout, used: frozenset[int]) -> list[Quantity]:
    """Every number that no phrase has used up, with its role. `used` are spans that a comparison has taken."""
    found = _ranges(layout, _single(layout, used))
    found = [replace(q, hedge=_hedge(layout, q)) for q in found]
    return _roles(layout, found)


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


def _ranges(layout: Layout, single: list[Quantity]) -> list[Quantity]:
    merged: list[Quantity] = []
    for later in single:
        joined = (_pair(layout, merged[-1], later) or _join(layout, merged[-1], later)) if merged else None
        if joined is None:
            merged.append(later)
        else:
            merged[-1] = joined
    return merged


def _pair(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    """ "2x10": the second number alone, bound to the question that such pairs are about."""
    if later.first - earlier.last != 2 or later.unit is not None:
        return None
    question = layout.words.pairs.get(layout.spans[earlier.last + 1].token.key)
    if layout.setting.open_kind in ("count", "size") and layout.setting.open_question != question:
        return None
    if (
        question not in layout.setting.questions
        or layout.spans[earlier.last].clause != layout.spans[later.first].clause
    ):
        return None
    return replace(later, first=earlier.first, role="noun", question=question, total=True)


def _join(layout: Layout, earlier: Quantity, later: Quantity) -> Quantity | None:
    spans = layout.spans
    between = list(range(earlier.last + 1, later.first))
    if earlier.ranged or not between or spans[earlier.last].clause != spans[later.first].clause:
        return None
    if spans[between[0]].of("noun") and len(between) > 1:
        between = between[1:]
    joints = [m.subject for i in between for m in spans[i].meanings if m.kind == "joint"]
    if len(between) > 2 or any(not _light(layout, i) for i in between):
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
    if low == high:
        return replace(earlier, unit=unit, last=later.last)
    step = min(earlier.step, later.step)
    return replace(
        earlier, low=low, high=high, value=(low + high) / 2, step=step, unit=unit, last=later.last, ranged=True,
        either=joints[0] == "or", fraction=earlier.fraction or later.fraction,
    )  # fmt: skip


def _light(layout: Layout, place: int) -> bool:
    """Whether the span may stand inside one quantity: joints, hedges and little words."""
    span = layout.spans[place]
    if span.of("joint") or span.of("hedge"):
        return True
    return not span.meanings and (
        span.token.key in layout.words.number_joints
        or span.token.key in layout.words.articles
        or span.token.kind == "mark"
    )


def _hedge(layout: Layout, quantity: Quantity) -> str:
    spans = layout.spans
    for place in (quantity.first - 1, quantity.first - 2, quantity.last + 1):
        if 0 <= place < len(spans) and spans[place].clause == spans[quantity.first].clause:
            hedge = spans[place].of("hedge")
            if hedge:
                return hedge.subject
            comparison = spans[place].of("comparison")
            if comparison and place < quantity.first and comparison.subject in _COMPARED:
                return _COMPARED[comparison.subject]
    return ""


def _roles(layout: Layout, found: list[Quantity]) -> list[Quantity]:
    nouns_used: set[int] = set()
    placed: list[Quantity] = []
    for index, quantity in enumerate(found):
        taken = _with_noun(layout, quantity, found, index, nouns_used)
        if taken.noun is not None:
            nouns_used.add(taken.noun)
        placed.append(taken)
    return _bare(layout, placed)


def _with_noun(layout: Layout, q: Quantity, found: list[Quantity], index: int, nouns_used: set[int]) -> Quantity:
    if q.role == "noun":
        return q
    after = _at(layout, q, q.last + 1)
    noun = after.of("noun") if after else None
    before = _at(layout, q, q.first - 1)
    if before is not None and before.token.key in _CURRENCY:
        return replace(q, role="elsewhere")
    if _of_more(layout, q) or (after is not None and noun is None and after.of("elsewhere")):
        return replace(q, role="elsewhere")
    if q.unit is not None:
        return replace(q, role="elsewhere" if _owner(layout, q) else "length")
    stop = found[index + 1].first if index + 1 < len(found) else len(layout.spans)
    for place in range(q.last + 1, min(q.last + 1 + REACH, stop)):
        span = _at(layout, q, place)
        if span is None or place in nouns_used or span.of("break") or span.of("correction"):
            break
        if (meaning := _noun(layout, span, q.shy)) is not None:
            borrowed = not any(m.kind == "noun" and not m.when_open for m in span.meanings)
            if borrowed and (named := _noun_before(layout, q, found)) is not None:
                return replace(q, role="noun", question=named)
            return _bound(layout, q, meaning, place)
        if _parts(layout, q, place):
            break
    if q.shy or _owner(layout, q):
        return q if q.shy else replace(q, role="elsewhere")
    floor = found[index - 1].last if index else -1
    for place in range(q.first - 1, max(q.first - 2 - REACH, floor), -1):
        span = _at(layout, q, place)
        if span is None or place in nouns_used or span.of("break") or span.of("correction"):
            break
        if (meaning := _noun(layout, span) or _name(layout, span)) is not None:
            return _bound(layout, q, meaning, place)
        if span.meanings and not (span.of("hedge") or span.of("joint") or span.of("choice")):
            break
    return q


def _of_more(layout: Layout, q: Quantity) -> bool:
    """Whether it is only a part of the number behind it: "3 of the 12 splines"."""
    of, article, number = (_at(layout, q, q.last + step) for step in (1, 2, 3))
    if of is None or article is None or of.token.key != "of":
        return False
    return article.token.number is not None or (number is not None and number.token.number is not None)


def _parts(layout: Layout, q: Quantity, place: int) -> bool:
    """Whether the span at `place` parts the number from a noun behind it."""
    span = layout.spans[place]
    if span.meanings and not span.of("hedge") and not span.of("joint") and not span.of("choice"):
        return True
    if span.of("joint") and span.token.key not in layout.words.fillers:
        return True
    joined = layout.spans[place - 1].token.key in layout.words.number_joints
    return span.token.kind == "word" and not span.meanings and place > q.last + 1 and not joined


def _owner(layout: Layout, q: Quantity) -> bool:
    """Whether the number is another thing's: "the box has 12", "my wheel nuts are 15 mm"."""
    linked = False
    for place in range(q.first - 1, max(q.first - 1 - FAR, -1), -1):
        span = _at(layout, q, place)
        if span is None or span.of("break") or span.of("correction"):
            return False
        key = span.token.key
        if span.of("other") or span.of("ignore"):
            return True
        if key in layout.words.linking:
            linked = True
        elif key in layout.words.subjects or (span.meanings and not (span.of("hedge") or span.of("joint"))):
            return False
        elif not span.meanings and span.token.kind == "word" and key not in layout.words.fillers:
            return linked and key not in layout.words.vocabulary
    return False


def _at(layout: Layout, q: Quantity, place: int) -> Span | None:
    """The span at `place`, if it stands in the quantity's clause."""
    spans = layout.spans
    if not 0 <= place < len(spans) or spans[place].clause != spans[q.first].clause:
        return None
    return spans[place]


def _noun(layout: Layout, span: Span, shy: bool = False) -> str | None:
    """What a number beside the span counts; a `shy` one needs the open question for nouns that hold only then."""
    opened = layout.setting.open_question
    nouns = [m for m in span.meanings if m.kind == "noun" and not (shy and m.when_open and m.subject != opened)]
    meaning = next((m for m in nouns if m.subject == opened), nouns[0] if nouns else None)
    return meaning.subject if meaning and meaning.subject in layout.setting.questions else None


def _name(layout: Layout, span: Span) -> str | None:
    meaning = span.of("name")
    question = layout.setting.questions.get(meaning.subject) if meaning else None
    return question.id if question and question.kind != "choice" else None


def _bound(layout: Layout, q: Quantity, question: str, place: int) -> Quantity:
    keys = {layout.key(t) for t in range(layout.spans[place].first, layout.spans[place].last + 1)}
    total = bool(keys & layout.words.totals.get(question, frozenset()))
    return replace(q, role="noun", question=question, noun=place, total=total)


def _bare(layout: Layout, placed: list[Quantity]) -> list[Quantity]:
    setting = layout.setting
    corrections = [i for i, span in enumerate(layout.spans) if span.of("correction")]
    answers_open = setting.open_kind in ("count", "size") and not looks_like_code(layout)
    taken = (
        sum(q.role == "loose" for q in placed) > MOST_BARE
        or any(q.question == setting.open_question for q in placed)
        or (setting.open_kind == "size" and any(q.role == "length" for q in placed))
    )
    result: list[Quantity] = []
    for q in placed:
        before = result[-1] if result else None
        corrected = before is not None and any(before.last < c < q.first for c in corrections)
        if q.role != "loose" or (q.shy and len(layout.tokens) > 2):
            result.append(q)
        elif corrected and before is not None and before.role in ("length", "noun", "bare"):
            role: Role = "length" if before.role == "length" else "noun"
            result.append(replace(q, role=role, question=before.question, unit=before.unit, total=before.total))
        elif (noun := _noun_before(layout, q, placed)) not in (None, setting.open_question) and _more_behind(layout, q):
            result.append(replace(q, role="noun", question=noun))
        elif answers_open and not taken and layout.stray.get(layout.spans[q.first].clause, 0) <= STRAY:
            result.append(replace(q, role="bare", question=setting.open_question))
        elif (noun := _noun_before(layout, q, placed)) is not None:
            result.append(replace(q, role="noun", question=noun))
        else:
            result.append(q)
    # A number before a correction belongs to the noun behind the one that corrects it: "12 no wait 11 splines".
    for at, q in enumerate(result[:-1]):
        later = result[at + 1]
        if (
            q.role in ("loose", "bare")
            and later.noun is not None
            and any(q.last < c < later.first for c in corrections)
        ):
            result[at] = replace(q, role="noun", question=later.question)
        side_by_side = later.first - q.last == 2 and _light(layout, q.last + 1)
        if q.role in ("loose", "bare") and later.role == "length" and side_by_side:
            result[at] = replace(q, role="length", unit=later.unit)
    return result


def _more_behind(layout: Layout, q: Quantity) -> bool:
    """Whether little words follow the number: "splines, 12 of them"."""
    after = _at(layout, q, q.last + 1)
    return after is not None and after.token.kind == "word"


def _noun_before(layout: Layout, q: Quantity, placed: list[Quantity]) -> str | None:
    """What a number alone in its clause counts: the noun of the clause before ("fine splines, about 20")."""
    if q.value % 1:
        return None
    clause = layout.spans[q.first].clause
    for place, span in enumerate(layout.spans):
        if span.clause == clause and not q.first <= place <= q.last:
            borrowed = span.of("noun") is not None and all(m.kind == "noun" and m.when_open for m in span.meanings)
            little = borrowed or (not span.meanings and span.token.key in layout.words.fillers)
            if not little and not span.of("hedge") and not span.of("means"):
                return None
    nouns = [s for s in layout.spans[: q.first] if s.clause == clause - 1]
    named = [noun for span in nouns if (noun := _noun(layout, span)) is not None]
    if len(set(named)) != 1 or any(other.question == named[0] for other in placed):
        return None
    return None if any(s.of("negation") or s.of("unsure") for s in nouns) else named[0]


def looks_like_code(layout: Layout) -> bool:
    text = layout.plain.text
    return sum(c in _CODE for c in text) > 1 or "--" in text or _CALL.search(text) is not None
