"""Which readings are a thought of their own, so that nothing else in the message can take them away.

Rules of this file: what may stand beside a reading that is a whole answer, and what may follow it.
"""

from functools import lru_cache

from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.layout import Layout, looks_like_code
from triagebot.conversation.understanding.words import Words
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading

#: A message that is one phrase of at most this many words is left to the rules.
ALONE = 3
#: So is one of at most this many that says one thing with nothing but little words beside it.
BRIEF = 6
#: Several readings of the open question are all of a message of at most this many words.
SEVERAL = 10


def outright(layout: Layout, found: Found) -> bool:
    """Whether the message is a denial of a choice of the open question or one asked in one breath with it, or bounds of
    its number, and words of somebody who is sure: "definitely not splines", "more than 20 for sure"."""
    reading, words = found.reading, layout.words
    denied = isinstance(reading, ChoiceReading) and reading.denied
    sized = isinstance(reading, SizeReading) and found.last > found.first
    told = denied or sized or isinstance(reading, BoundReading)
    told |= isinstance(reading, CountReading) and reading.low < reading.high
    opened = layout.setting.open_question or ""
    asked = reading.question == opened or (denied and reading.question in words.beside.get(opened, ()))
    if not told or not asked or "?" in layout.plain.text:
        return False
    clause = layout.tokens[found.first].clause
    beside = [s for s in layout.spans if s.last < found.first or s.first > found.last]
    beside = [s for s in beside if s.clause == clause or not denied]  # "not splines, I have looked"
    little = _words_of_the_sure(words) | (words.fillers if denied else frozenset())
    moods = {"own", "tentative"} if sized else {"own"}
    return moods.issuperset(layout.scopes) and all(s.token.key in little or s.of("hedge") for s in beside)


@lru_cache(maxsize=4)
def _words_of_the_sure(words: Words) -> frozenset[str]:
    """The words that may stand beside what somebody is sure of."""
    return words.articles | words.subjects | words.linking | words.opening_fillers | words.assuring


def only_of_the_open(layout: Layout, found: list[Found]) -> bool:
    """Whether a message is nothing but choices of the open question that agree: "notches, not teeth"."""
    readings = [f.reading for f in found if isinstance(f.reading, ChoiceReading)]
    opened = {reading.question for reading in readings} == {layout.setting.open_question}
    told = sum(not reading.denied for reading in readings) <= 1 and set(layout.scopes) == {"own"}
    if not (opened and told and 1 < len(found) == len(readings) and len(layout.tokens) <= SEVERAL):
        return False
    read = {place for f in found for place in range(f.first, f.last + 1)}
    beside = [s for s in layout.spans if s.first not in read]
    little = _words_of_the_sure(layout.words) | layout.words.denials
    return "?" not in layout.plain.text and all(s.token.key in little or s.of("negation") for s in beside)


def answers_and_goes_on(layout: Layout, found: Found) -> bool:
    """Whether a plain yes or no is all of its thought, with more of this wheel behind it: "no but it is
    worn anyway"."""
    behind = layout.spans[found.last + 1] if found.plain and found.last + 1 < len(layout.spans) else None
    parted = behind is not None and (behind.of("break") is not None or behind.clause > layout.spans[found.last].clause)
    return parted and set(layout.scopes) == {"own"} and "?" not in layout.plain.text


def one_of_two(layout: Layout, found: Found) -> bool:
    """Whether the thought is one of two neighbours: "11 or 12, lost track a bit", "12, maybe 13"."""
    reading, words = found.reading, layout.words
    opened = isinstance(reading, CountReading) and reading.question == layout.setting.open_question
    if not opened or not isinstance(reading, CountReading) or reading.high - reading.low != 1:
        return False
    clauses = {layout.tokens[place].clause for place in (found.first, found.last)}
    unsure = next((s.first for s in layout.spans if s.first > found.last and s.of("unsure")), len(layout.tokens))
    beside = [s for s in layout.spans if s.clause in clauses and s.first < unsure]  # "7 or 8 hard to see with the mud"
    beside = [s for s in beside if not found.first <= s.first <= found.last]
    little = words.articles | words.subjects | words.linking | words.opening_fillers | words.introducing
    told = layout.scopes[found.first] in ("own", "tentative") and "?" not in layout.plain.text
    return told and all(s.of("hedge") or s.of("unsure") or s.of("joint") or s.token.key in little for s in beside)


def alone(layout: Layout, found: list[Found]) -> Found | None:
    """The one reading of a short message that says it and no more: one phrase of the open question or of not knowing,
    or a reading with nothing but little words beside it."""
    if len(found) != 1 or set(layout.scopes) != {"own"}:
        return None
    if with_little_words(layout, found[0]):
        return found[0]
    if len(layout.spans) != 1 or len(layout.tokens) > ALONE:
        return None
    opened = found[0].reading.question == layout.setting.open_question
    kinds = {meaning.kind for meaning in layout.spans[0].meanings}
    return found[0] if opened and kinds in ({"choice"}, {"unsure"}) else None


def leads(layout: Layout, found: Found, every: list[Found]) -> bool:
    """Whether a reading is a thought of its own that answers the open question, with more behind it: "like new, I had
    them changed in spring", "not sure, the chain guard hides them"."""
    clause = layout.tokens[found.first].clause
    if found.reading.question != layout.setting.open_question or layout.tokens[-1].clause == clause:
        return False
    if isinstance(found.reading, UnsureReading):
        if not any(s.first == found.first and s.of("unsure") for s in layout.spans):
            return False
    elif isinstance(found.reading, CountReading):
        if found.reading.low < found.reading.high or sum(t.number is not None for t in layout.tokens) > 1:
            return False
    elif (
        not isinstance(found.reading, ChoiceReading)
        or sum(f.reading.question == found.reading.question for f in every) > 1
    ):
        return False
    little = _little_words(layout.words, isinstance(found.reading, CountReading))
    before = all(
        s.token.key in little
        for s in layout.spans
        if s.last < found.first or (s.first > found.last and s.clause == clause)
    )
    told = layout.scopes[found.first] == "own" and "?" not in layout.plain.text
    rest = next(place for place, token in enumerate(layout.tokens) if token.clause > clause)
    return before and told and layout.scopes[rest] in ("own", "tentative", "other", "memory", "hearsay")


@lru_cache(maxsize=8)
def _little_words(words: Words, counting: bool) -> frozenset[str]:
    """The words that may stand before a reading that is a thought of its own."""
    little = words.articles | words.subjects | words.linking | words.opening_fillers
    return (little | words.fillers) - words.denials if counting else little


def ends_with_it(layout: Layout, found: Found) -> bool:
    """Whether a message of this wheel ends with not knowing, as a thought of its own: "I'm hopeless at measuring, no
    idea"."""
    first, tokens = found.first, layout.tokens
    return (
        isinstance(found.reading, UnsureReading)
        and found.reading.question == layout.setting.open_question
        and found.last == len(tokens) - 1
        and (first == 0 or tokens[first - 1].clause != tokens[first].clause == tokens[-1].clause)
        and set(layout.scopes) == {"own"}
        and "?" not in layout.plain.text
    )


def with_little_words(layout: Layout, found: Found) -> bool:
    """Whether nothing but articles and the like stands beside a reading: "a plain hub"."""
    beside = [s for s in layout.spans if s.last < found.first or s.first > found.last]
    little = layout.words.articles | layout.words.subjects | layout.words.linking
    said = not isinstance(found.reading, UnsureReading) and len(layout.tokens) <= BRIEF
    if isinstance(found.reading, CountReading):  # "ok ok. 5"
        clause = layout.tokens[found.first].clause
        heard = [s for s in beside if s.clause < clause and s.token.key in layout.words.said_heard]
        beside = [s for s in beside if s not in heard]
    return said and all(not s.meanings and s.token.key in little for s in beside)


def begins_with_not_knowing(layout: Layout, found: list[Found]) -> bool:
    """Whether a message of this wheel begins with not knowing what is asked, and tells nothing but why: "no clue they
    all blur together"."""
    if len(found) != 1 or found[0].first or not isinstance(found[0].reading, UnsureReading):
        return False
    opened = found[0].reading.question == layout.setting.open_question
    numbered = any(token.number is not None for token in layout.tokens)
    return opened and not numbered and set(layout.scopes) == {"own"} and "?" not in layout.plain.text


def fills_its_clause(layout: Layout, found: Found) -> bool:
    """Whether a choice of a question asked in one breath is all of its thought: "notches, between 24 and
    25 mm"."""
    asked_with_it = layout.words.beside.get(layout.setting.open_question or "", frozenset())
    if not isinstance(found.reading, ChoiceReading) or found.reading.question not in asked_with_it:
        return False
    clause = layout.tokens[found.first].clause
    places = [place for place, token in enumerate(layout.tokens) if token.clause == clause]
    return places[0] == found.first and places[-1] == found.last and len(places) < len(layout.tokens)


def last_thought(layout: Layout, found: Found) -> range | None:
    """The tokens of the thought that it stands in, where others stand before it and none behind."""
    clause = layout.tokens[found.last].clause
    if found.first == 0 or layout.tokens[-1].clause != clause:
        return None
    first = next(place for place, token in enumerate(layout.tokens) if token.clause == clause)
    return range(first, len(layout.tokens)) if 0 < first <= found.first else None


def lone_count(layout: Layout) -> Found | None:
    """The only number of a message that speaks of nothing but this wheel, where the open question can have so many."""
    question = layout.setting.questions.get(layout.setting.open_question or "")
    numbers = [span for span in layout.spans if span.token.number is not None]
    if question is None or question.kind != "count" or len(numbers) != 1 or set(layout.scopes) != {"own"}:
        return None
    span, number = numbers[0], numbers[0].token.number
    if number is None or span.meanings or number.step < 1 or number.low != number.high or looks_like_code(layout):
        return None
    if not question.least <= number.value <= question.most:
        return None
    return Found(CountReading(question.id, int(number.value), int(number.value)), span.first, span.last)
