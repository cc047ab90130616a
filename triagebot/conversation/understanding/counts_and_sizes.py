"""Numbers of a message as readings: counts, and sizes in mm.

Rules of this file: which number is a count, a size, or neither; one that cannot be is asked about, of the question
where it would fit.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.joining import Quantity
from triagebot.conversation.understanding.layout import Layout, looks_like_code
from triagebot.conversation.understanding.results import lone_noes
from triagebot.conversation.understanding.roles import MOST_BARE
from triagebot.conversation.understanding.sizes import instrument, measured
from triagebot.conversation.understood import Puzzle
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, SizeReading
from triagebot.topics.schema import Question

#: "11 or 12" is one count known to this many; wider apart they are two answers.
EITHER = 3
#: A message with a length that cannot be is about the part when it has at most this many words.
CURT = 4
#: In a message of at most this many words a decimal on its own is about the part.
SHORT_REMARK = 10


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something to ask about, and the token where it was said."""

    puzzle: Puzzle
    first: int


def questions_of(layout: Layout, place: int, kinds: Iterable[str]) -> list[str]:
    span = layout.spans[place]
    found = [m.subject for kind in kinds for m in span.meanings if m.kind == kind]
    found.sort(key=lambda subject: subject != layout.setting.open_question)
    return [question for question in found if question in layout.setting.questions]


def count_and_size(layout: Layout, quantities: list[Quantity], found: list[Found], doubts: list[Doubt]) -> None:
    spans = layout.spans
    sizes = [q for q in layout.setting.questions.values() if q.kind == "size"]
    measured_question = _size_question(layout, sizes) if sizes else None
    for q in quantities:
        first, last = spans[q.first].first, spans[q.last].last
        if q.noun is not None:
            first, last = min(first, spans[q.noun].first), max(last, spans[q.noun].last)
        if _denied_number(layout, q) or _none_of_them(layout, q):
            continue
        question = layout.setting.questions.get(q.question or "")
        if q.role == "length" and measured_question is not None:
            _length(layout, q, measured_question, first, last, found, doubts)
        elif question is not None and question.kind == "size":
            _length(layout, q, question, first, last, found, doubts)
        elif question is not None and q.role in ("noun", "bare"):
            _count(layout, q, question, first, last, found, doubts)
    _neighbours(layout, found)
    if sizes and not any(isinstance(f.reading, SizeReading | BoundReading) for f in found):
        _loose_size(layout, quantities, sizes[0], found, doubts)
    loose = [q for q in quantities if q.role == "loose"]
    if len(loose) == 1 and sizes and loose[0].hedge == "about":
        _beside_a_count(layout, loose[0], sizes[0], found, doubts)
    if len(loose) == 1 and not found and not doubts and layout.setting.open_kind in ("choice", None):
        first, last = layout.spans[loose[0].first].first, layout.spans[loose[0].last].last
        within = loose[0].value == int(loose[0].value) and 1 <= loose[0].value <= len(layout.setting.choices)
        if not within and (another := _fits_another(layout, loose[0], first, last)) is not None:
            doubts.append(another)


def _neighbours(layout: Layout, found: list[Found]) -> None:
    """Two counts of one thing side by side, of which the second is only what it might be: "twelve I think, might be 11"
    is one of the two."""
    counts = [f for f in found if isinstance(f.reading, CountReading)]
    for f, later in pairwise(counts):
        one, other = f.reading, later.reading
        if not isinstance(one, CountReading) or not isinstance(other, CountReading) or one.question != other.question:
            continue
        single = one.low == one.high and other.low == other.high and abs(one.low - other.low) == 1
        between = [span for span in layout.spans if f.last < span.first < later.first]
        single = single and not any(span.of("correction") for span in between)
        if single and layout.scopes[later.first] == "tentative" and "?" not in layout.plain.text:
            both = CountReading(one.question, min(one.low, other.low), max(one.high, other.high))
            found[found.index(f)] = replace(f, reading=both, last=later.last)
            found.remove(later)


def _beside_a_count(layout: Layout, q: Quantity, question: Question, found: list[Found], doubts: list[Doubt]) -> None:
    """ "4 dents bout 24": a rough number beside what is counted is asked back as the size."""
    last = max((f.last for f in found if isinstance(f.reading, CountReading)), default=len(layout.tokens))
    reading = measured(layout, q, question).reading
    first = layout.spans[q.first].first
    if last < first <= last + 2 and reading is not None and question.id not in layout.setting.answered:
        text = layout.quote(first, layout.spans[q.last].last)
        doubts.append(Doubt(Puzzle("likely", question.id, text, reading), first))


def _loose_size(
    layout: Layout, quantities: list[Quantity], question: Question, found: list[Found], doubts: list[Doubt]
) -> None:
    """A number without unit or noun that is a size all the same: a decimal, or one with its instrument. A short message
    with a decimal that fits only in another unit ("maybe 2.3?") is asked about."""
    loose = [q for q in quantities if q.role == "loose"]
    if layout.setting.open_kind == "count" and all(q.value == int(q.value) for q in loose):
        return  # "twelve, with a bit of tape where I began"
    for q in loose if len(loose) <= MOST_BARE else ():
        if q.low == int(q.low) and q.high == int(q.high) and instrument(layout, q) in ("unknown", "eye"):
            continue
        length = measured(layout, q, question)
        first, last = layout.spans[q.first].first, layout.spans[q.last].last
        if length.reading is not None and not _denied_number(layout, q):
            found.append(Found(length.reading, first, last))
            return
        short = sum(t.kind == "word" for t in layout.tokens) <= SHORT_REMARK
        decimal = q.step < 1 and not q.ranged
        if length.proposed is not None and short and decimal and not looks_like_code(layout) and not doubts:
            doubts.append(Doubt(Puzzle("unit", question.id, layout.quote(first, last), length.proposed), first))
            return


def _fits_another(layout: Layout, q: Quantity, first: int, last: int) -> Doubt | None:
    """A number that the open question cannot have, asked back as the answer of another that has none yet: 2.3 while
    sprockets are counted, 12 while a maker's name is asked for."""
    setting, value = layout.setting, q.value
    clause = layout.spans[q.first].clause
    if q.ranged or sum(token.kind != "mark" for token in layout.tokens if token.clause == clause) > CURT:
        return None
    for question in setting.questions.values():
        if question.id == setting.open_question or question.id in setting.answered or setting.open_question is None:
            continue
        text = layout.quote(first, last)
        if question.kind == "count" and value == int(value) and question.least <= value <= question.most:
            reading = CountReading(question.id, int(value), int(value))
            return Doubt(Puzzle("likely", question.id, text, reading), first)
        if question.kind == "size" and q.unit is None:
            length = measured(layout, q, question)
            if length.reading is not None:
                return Doubt(Puzzle("likely", question.id, text, length.reading), first)
            if length.proposed is not None and q.step < 1:
                return Doubt(Puzzle("unit", question.id, text, length.proposed), first)
    return _measured_anew(layout, q, first, last)


def _measured_anew(layout: Layout, q: Quantity, first: int, last: int) -> Doubt | None:
    """A rough number or a decimal, asked back as the size that was told before: "about 22"."""
    setting = layout.setting
    for question in setting.questions.values():
        rough = q.unit is None and (q.hedge == "about" or q.step < 1)
        if question.kind != "size" or question.id == setting.open_question or not rough:
            continue
        reading = measured(layout, q, question).reading
        if question.id in setting.answered and reading is not None:
            return Doubt(Puzzle("likely", question.id, layout.quote(first, last), reading), first)
    return None


def _size_question(layout: Layout, sizes: list[Question]) -> Question:
    """The size question a length belongs to: the open one, else the one a noun names, else the first."""
    by_id = {q.id: q for q in sizes}
    if layout.setting.open_question in by_id:
        return by_id[layout.setting.open_question]
    named = [q for i in range(len(layout.spans)) for q in questions_of(layout, i, ("noun", "name")) if q in by_id]
    return by_id[named[0]] if named else sizes[0]


def _denied_number(layout: Layout, q: Quantity) -> bool:
    """ "not 12", "11 not 12", "it's 9, 8 was wrong"."""
    if q.first - 1 in lone_noes(layout):
        return False
    behind = layout.spans[q.last + 1] if q.last + 1 < len(layout.spans) else None
    if behind is not None and behind.of("correction") and behind.token.key in layout.words.linking:
        return True
    before = layout.spans[q.first - 1] if q.first else None
    return bool(before and before.clause == layout.spans[q.first].clause and before.of("negation")) and not (
        before is not None and before.of("negation") and before.token.key in layout.words.minus_words
    )


def _none_of_them(layout: Layout, q: Quantity) -> bool:
    """ "Zero splines" denies them and counts nothing."""
    return q.low == q.high == 0 and q.noun is not None and layout.spans[q.noun].of("choice") is not None


def _length(
    layout: Layout, q: Quantity, question: Question, first: int, last: int, found: list[Found], doubts: list[Doubt]
) -> None:
    is_open = layout.setting.open_question == question.id
    if not is_open and _of_a_sized_thing(layout, q, question):
        return
    length = measured(layout, q, question)
    text = layout.quote(first, last)
    if length.reading is not None:
        found.append(Found(length.reading, first, last))
        return
    if not is_open and _known_elsewhere(layout, q):
        return
    if is_open and q.unit is None and (counted := _counts_instead(layout, q, first, last)) is not None:
        doubts.append(counted)
        return
    curt = sum(t.kind != "mark" for t in layout.tokens) <= CURT
    if length.proposed is not None and (is_open or q.noun is not None or curt or q.unit in (1.0, 10.0)):
        doubts.append(Doubt(Puzzle("unit", question.id, text, length.proposed), first))
    elif is_open or q.noun is not None or curt:
        doubts.append(Doubt(Puzzle("range", question.id, text), first))


def _counts_instead(layout: Layout, q: Quantity, first: int, last: int) -> Doubt | None:
    """A number that is no size, asked back as the count of what is known to be there: "slots", then "two"; or of what
    was counted wrongly: "two slots", then "no sorry, they are 4"."""
    answered, corrected = layout.setting.answered, any(span.of("correction") for span in layout.spans)
    for fitting, counts in layout.words.topic.counted.items():
        for count in counts if fitting in answered else ():
            question = layout.setting.questions[count]
            if count in answered and corrected and question.least <= q.value <= question.most and not q.value % 1:
                reading = CountReading(count, int(q.value), int(q.value))
                return Doubt(Puzzle("likely", count, layout.quote(first, last), reading), first)
            another = _fits_another(layout, q, first, last) if count not in answered else None
            if another is not None and another.puzzle.question == count:
                return another
    return None


def _of_a_sized_thing(layout: Layout, q: Quantity, question: Question) -> bool:
    """Whether it is the width of another thing that is told about beside it: "through axle, 12 mm diameter"."""
    clause = layout.spans[q.first].clause
    own = layout.words.own_sizes | {question.id}
    near = [(s.clause, m) for s in layout.spans if clause - 1 <= s.clause <= clause for m in s.meanings]
    if any(at == clause and m.kind == "name" and m.subject not in own for at, m in near):
        return False  # "... the fitting is 23 mm across"
    others = [
        m.subject in layout.words.own_sizes
        for _, m in near
        if m.kind == "choice" and m.subject in layout.setting.questions
    ]
    return bool(others) and all(others)


def _known_elsewhere(layout: Layout, q: Quantity) -> bool:
    """Whether this is the known size of another part: 26 inch, 135 mm."""
    for unit, lengths in layout.words.elsewhere_lengths.items():
        if layout.words.units.get(unit) == q.unit and q.value in lengths:
            return True
    return False


def _count(
    layout: Layout, q: Quantity, question: Question, first: int, last: int, found: list[Found], doubts: list[Doubt]
) -> None:
    whole = all(math.isfinite(v) and v == int(v) for v in (q.low, q.high))
    if q.total and (not whole or q.low > question.most):
        found += _of_a_whole(layout, q, question, first, last)
        return
    text = layout.quote(first, last)
    none = layout.words.topic.zeros.get(question.id)
    if q.low == q.high == 0 and none is not None:
        whole_message = sum(t.kind != "mark" for t in layout.tokens) <= CURT
        found.append(
            Found(ChoiceReading(*none), first, last, sure=layout.words.sureness.tentative if whole_message else 1.0)
        )
    elif not whole or not question.least <= q.low <= q.high <= question.most:
        if whole and (before := _counted_before(layout, q)) is not None:
            found.append(Found(CountReading(before.id, int(q.low), int(q.high)), first, last))
            return
        another = _fits_another(layout, q, first, last) if q.role == "bare" else None
        doubts.append(another or Doubt(Puzzle("range", question.id, text), first))
    elif q.either and q.high - q.low > EITHER:
        doubts.append(Doubt(Puzzle("conflict", question.id, text), first))
    else:
        share = q.share if q.high * q.share <= question.most else 1
        low, high = int(q.low) * share, int(q.high) * share
        if q.hedge == "least" and not q.ranged:
            high = question.most
        elif q.hedge == "most" and not q.ranged:
            low = question.least
        found.append(Found(CountReading(question.id, low, high), first, last, total=q.total))


def _counted_before(layout: Layout, q: Quantity) -> Question | None:
    """What was counted again where the open question cannot have so many: "24, I counted again"."""
    setting = layout.setting
    if q.role != "bare" or not any(span.of("insists") or span.of("correction") for span in layout.spans):
        return None
    if layout.words.counting.isdisjoint(token.key for token in layout.tokens):
        return None
    known = [each for each in setting.questions.values() if each.kind == "count" and each.id in setting.answered]
    fit = [each for each in known if each.id != setting.open_question and each.least <= q.low <= q.high <= each.most]
    return fit[0] if len(fit) == 1 else None


def _of_a_whole(layout: Layout, q: Quantity, question: Question, first: int, last: int) -> Iterator[Found]:
    """What a number larger than its question allows comes to: 21 gears are three times seven."""
    topic = layout.words.topic
    wholes = topic.wholes.get(question.id)
    if wholes is None or q.ranged or not math.isfinite(q.value):
        return
    for divisor in _divisors(layout, question):
        each = q.value / divisor
        if each == int(each) and question.least <= each <= question.most:
            yield Found(CountReading(question.id, int(each), int(each)), first, last)
            return
    likely = wholes.get(int(q.value)) if layout.setting.open_question == question.id else None
    if likely is not None:
        yield Found(CountReading(question.id, likely, likely), first, last, sure=layout.words.sureness.tentative)


def _divisors(layout: Layout, question: Question) -> Iterator[int]:
    """By what the message says a whole is to be divided: the number of rings at the front."""
    named = layout.words.topic.divisors.get(question.id, {})
    for span in layout.spans:
        for token in layout.tokens[span.first : span.last + 1]:
            if token.key in named:
                yield named[token.key]
            elif token.number is not None and span.of("ignore") and token.number.value in named.values():
                yield int(token.number.value)
