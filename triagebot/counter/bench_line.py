"""One line of what somebody at the bench sees ("12 spl 23.4 stays"): what it says, and what is still missing.

Rules of this file:
- words of the bench stand for what anybody would say, and then the conversation's own understanding reads the line;
- a number that nothing else claims is a width in mm or, too small for that, the count, wherever that takes nothing
  away from the line;
- a line goes on with what was told before if it answers what was missing, or says one more thing while something is
  missing, and contradicts nothing of it; any other begins anew;
- nothing is asked twice, and nothing more once a remover can be named; the wheel is taken to be out; people at the
  bench slip less often than others;
- a line is no case: it opens none, and the same line gives the same answer.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from triagebot.conversation import Fact, Guide, NextStep, Puzzle, next_step, try_by_hand
from triagebot.conversation.events import Answered, from_json, to_json
from triagebot.conversation.guide import UNSURE, Language
from triagebot.conversation.second_look import contradicted
from triagebot.conversation.understanding import Setting, understand
from triagebot.conversation.understood import Meaning
from triagebot.conversation.wording import label
from triagebot.counter.bench_topic import NEAR, known_of, widths
from triagebot.counter.bench_traits import traits_told, without_traits
from triagebot.counter.repair import repaired
from triagebot.counter.shorthand import Plain, as_meant, in_plain_words
from triagebot.counter.words import StaffWords, staff_words
from triagebot.identify import ChoiceReading, CountReading, Decision, Reading, SizeReading, UnsureReading
from triagebot.shop import fold
from triagebot.topics import Topic

_PART = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+(?:['’][^\W\d_]+)*|\S", re.UNICODE)
#: A number and letters in turns, written as one word, and the parts of one.
_WORD = re.compile(r"(?<![\w.,])\d+(?:[.,]\d+)?[^\W\d_]+(?:\d+(?:[.,]\d+)?|[^\W\d_]+)*(?!\w)")
_RUN = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_]+")
_COMMAS = re.compile(r"\s*,(?:\s*,)+")
#: A number, or two with a dash between, that no letter touches.
_BARE = re.compile(r"(?<![\w.,/-])\d+(?:[.,]\d+)?(?:\s?[-–]\s?\d+(?:[.,]\d+)?)?(?![\w/-]|[.,]\d)")
#: So much as often as anybody do the people at a bench slip when they look and count (a judgement).
SLIPS = 0.2
#: With the wheel and a calliper in hand, to look at the fitting takes no more than this, in easy questions.
PRICE = 1.0
#: A width is the number that was said, to within so much.
SAME = 0.01
#: Of a line from the bench so many characters are read, and so many bare numbers tried as widths.
MOST, MOST_MEASURED = 200, 6


@dataclass(frozen=True, slots=True)
class Line:
    """What was told about one wheel; `question` is what is missing still, None once it is settled. `number` counts the
    lines, so that a button of an older one is told."""

    facts: tuple[Fact, ...] = ()
    question: str | None = None
    number: int = 0

    @property
    def readings(self) -> tuple[Reading, ...]:
        return tuple(fact.reading for fact in self.facts)


@dataclass(frozen=True, slots=True)
class Seen:
    """What a line says: readings, and something that must be said otherwise before it counts."""

    facts: tuple[Fact, ...]
    puzzle: Puzzle | None = None


def in_full(words: StaffWords, text: str) -> str:
    """The line with the words of the bench written out."""
    apart = _WORD.sub(lambda m: _unglued(words, m[0]), text[:MOST])
    for phrase, long in words.phrases.items():
        apart = re.sub(rf"(?<!\w){re.escape(phrase)}(?!\w)", long, apart, flags=re.IGNORECASE)
    parts = [(match[0], match.start(), match.end()) for match in _PART.finditer(apart)]
    folded = [fold(part) for part, _, _ in parts]
    written, place, end = "", 0, 0
    while place < len(parts):
        ahead = len(parts) - place
        kept = next((n for n in (4, 3, 2) if n <= ahead and " ".join(folded[place : place + n]) in words.whole), 0)
        part, start, _ = parts[place]
        written += apart[end:start]
        if kept:
            end = parts[place + kept - 1][2]
            written += apart[start:end]
            place += kept
            continue
        long = words.abbreviations.get(folded[place] or part, part)
        written += f" {long}" if long != part and written[-1:].isdecimal() else long
        end = parts[place][2]
        place += 1
    return _COMMAS.sub(",", written + apart[end:])


def _unglued(words: StaffWords, word: str) -> str:
    """ "20spl7spstays" is "20 splines 7 sprockets stays"; the word as it is where a part of it is not known."""
    parts: list[str] = []
    for run in _RUN.findall(word):
        if run[0].isdecimal():
            parts.append(run)
            continue
        found = next(filter(None, (_known(words, run[:end], run[end:]) for end in range(len(run), 0, -1))), None)
        if found is None:
            return word
        parts += found
    same = len(parts) <= 2 and "".join(parts).lower() == word.lower()
    return word if same else " ".join(parts)


def _known(words: StaffWords, first: str, rest: str) -> list[str] | None:
    """Both parts of a run of letters, written out where they are units behind a number."""
    first, rest = first.lower(), rest.lower()
    if first not in words.glued and first not in words.abbreviations:
        return None
    if rest and rest not in words.abbreviations:
        return None
    return [words.glued.get(first, first), *([rest] if rest else [])]


@lru_cache(maxsize=64)
def read_line(guide: Guide, code: str, text: str, question: str | None = None) -> Seen:
    """What a line says in a language. `question` is what was missing; answering it by number or with yes or no counts.
    Pure; raises nothing, whatever the text."""
    words, text = staff_words(code), text[:MOST]
    bare, said = without_traits(words, text)
    seen = _read(guide, words, code, bare, question)
    told = traits_told(words, guide.topic, bare, said, seen.facts) if said else ()
    return replace(seen, facts=(*seen.facts, *told)) if told or not said else _read(guide, words, code, text, question)


def _read(guide: Guide, words: StaffWords, code: str, text: str, question: str | None) -> Seen:
    language = guide.language(code)
    setting = _setting(guide, language, question)
    text = repaired(words, language.words.common, text)
    if (plain := in_plain_words(words, known_of(guide.topic), text)) is not None:
        return _in_plain(guide, plain, setting)
    seen = _in_sentences(guide, words, text, setting)
    loose = in_plain_words(words, known_of(guide.topic), text, loose=True)
    if loose is None:
        return seen
    short = _in_plain(guide, loose, setting)
    return _agreed(text, _outvoted(seen, short, lambda: understand(text, setting).facts), short)


def _outvoted(seen: Seen, short: Seen, as_written: Callable[[], Sequence[Fact]]) -> Seen:
    """What a line says with the words of the bench written out, where its shorthand says something else of a choice:
    that of what it says as it was written where the two agree; else nothing of that is taken."""
    said, other = ({f.reading.question: f for f in each.facts} for each in (seen, short))
    differ = {q for q in said.keys() & other.keys() if _another(said[q].reading, other[q].reading)}
    if not differ:
        return seen
    third = {fact.reading.question: fact.reading for fact in as_written()}
    kept = [f for f in seen.facts if f.reading.question not in differ or third.get(f.reading.question) == f.reading]
    agreed = [other[q] for q in differ if third.get(q) == other[q].reading]
    return replace(seen, facts=(*kept, *agreed))


def _another(one: Reading, other: Reading) -> bool:
    return isinstance(other, ChoiceReading) and one != other


def _agreed(text: str, seen: Seen, loose: Seen) -> Seen:
    """What a line says as a sentence, with what its words of shorthand say beside that. Where the two read its numbers
    in two ways, as shorthand; as a sentence alone, where they contradict each other in anything else."""
    said = {fact.reading.question: fact.reading for fact in seen.facts}
    differ = [f.reading for f in loose.facts if said.get(f.reading.question, f.reading) != f.reading]
    if loose.puzzle is not None or any(isinstance(reading, ChoiceReading) for reading in differ):
        return seen
    more = _beside(text, seen.facts, loose.facts)
    if all(fact in more or fact.reading in said.values() for fact in loose.facts):
        return Seen((*seen.facts, *more)) if more else seen
    return Seen((*loose.facts, *_beside(text, loose.facts, seen.facts)))


def _beside(text: str, facts: Sequence[Fact], others: Sequence[Fact]) -> list[Fact]:
    """Those of the others that answer other questions, from other numbers of the text."""
    known = {fact.reading.question for fact in facts}
    written = Counter(_RUN.findall(text))
    left = written - Counter(number for fact in facts for number in _RUN.findall(fact.text))
    return [
        fact
        for fact in others
        if fact.reading.question not in known and all(left[n] or not written[n] for n in _RUN.findall(fact.text))
    ]


def _in_sentences(guide: Guide, words: StaffWords, text: str, setting: Setting) -> Seen:
    """What a line says as anybody would say it."""
    whole = in_full(words, as_meant(words, text))
    meant = understand(whole, setting)
    for number, measured in _measured(whole):
        tried = understand(measured, setting)
        if not _says_more(tried, meant):
            continue
        if could_be_across(guide, number):
            meant = tried
            break
        counted = _counted(guide, number, meant)
        left = () if counted else tuple(_left_out(tried, meant))
        meant = replace(meant, facts=(*meant.facts, *counted), puzzles=(*meant.puzzles, *left))
    meant = _with_the_rest(guide, whole, meant)
    return Seen(meant.facts, meant.puzzles[0] if meant.puzzles else None)


def is_shorthand(guide: Guide, code: str, text: str) -> bool:
    """Whether a line is nothing but shorthand for what is seen of a wheel."""
    words = staff_words(code)
    meant = repaired(words, guide.language(code).words.common, text)
    return in_plain_words(words, known_of(guide.topic), meant) is not None


def _in_plain(guide: Guide, plain: Plain, setting: Setting) -> Seen:
    """What a line of shorthand says."""
    meant = understand(plain.text, setting)
    count = () if plain.count is None else (CountReading(_count_asked(guide), plain.count, plain.count),)
    facts = (*(Fact(reading, str(plain.count)) for reading in count), *meant.facts)
    return Seen(facts, meant.puzzles[0] if meant.puzzles else None)


def _with_the_rest(guide: Guide, whole: str, meant: Meaning) -> Meaning:
    """Beside a width, a bare number that nothing was read from is how many there are; if it cannot be that, or there
    are several, they are said to be left out."""
    if not any(isinstance(fact.reading, SizeReading) for fact in meant.facts) or meant.puzzles:
        return meant
    numbers = reversed([number for number, _ in _measured(whole)])
    over = [each for each in numbers if not any(_is_of(each, fact.reading) for fact in meant.facts)]
    counted = _counted(guide, over[0], meant) if len(over) == 1 else ()
    said = " ".join(f"{each:g}" for each in over)
    left = (Puzzle("range", _count_asked(guide), said),) if over and not counted else ()
    return replace(meant, facts=(*meant.facts, *counted), puzzles=left)


def _measured(text: str) -> Iterator[tuple[float, str]]:
    """The first bare numbers of a text, the last of them first, and the text with a unit behind it."""
    for match in reversed(list(_BARE.finditer(text))[:MOST_MEASURED]):
        number = float(match[0].split("-")[0].split("–")[0].replace(",", "."))
        yield number, f"{text[: match.end()]} mm{text[match.end() :]}"


def _left_out(tried: Meaning, meant: Meaning) -> Iterator[Puzzle]:
    """A number that is neither a width nor how many there are."""
    known = {fact.reading for fact in meant.facts}
    for fact in tried.facts:
        if fact.reading not in known:
            yield Puzzle("range", fact.reading.question, fact.text.removesuffix(" mm"))


def could_be_across(guide: Guide, number: float) -> bool:
    low, high = widths(guide.topic)
    return low - NEAR <= number <= high + NEAR


def _counted(guide: Guide, number: float, meant: Meaning) -> tuple[Fact, ...]:
    """A number too small to be a width is how many there are, unless that was said."""
    count = _count_asked(guide)
    known = {fact.reading.question for fact in meant.facts}
    small = number < widths(guide.topic)[0] and (
        number in known_of(guide.topic).counts or bool(known & set(guide.topic.flow.outcomes.sights))
    )
    if not small or not count or count in known or number != int(number):
        return ()
    return (Fact(CountReading(count, int(number), int(number)), f"{number:g}"),)


def count_read(guide: Guide, number: float) -> Fact | None:
    """That there are so many splines or notches; None for what is no such number."""
    fits = number == int(number) and int(number) in known_of(guide.topic).counts
    return Fact(CountReading(_count_asked(guide), int(number), int(number)), f"{number:g}") if fits else None


def _is_of(number: float, reading: Reading) -> bool:
    """Whether a reading has this number in it."""
    match reading:
        case CountReading(low=low, high=high):
            return number in (low, high)
        case SizeReading(mm=mm, half_width=half):
            return abs(number - mm) <= half + SAME or number * 10 == mm
        case _:
            return False


def _count_asked(guide: Guide) -> str:
    """The question of how many splines or notches there are."""
    sights = guide.topic.flow.outcomes.sights
    return next((q.id for q in guide.topic.flow.questions if q.kind == "count" and q.id in sights), "")


def _says_more(tried: Meaning, meant: Meaning) -> bool:
    """Whether something came to what was understood, and nothing was lost."""
    new, old = ({fact.reading for fact in each.facts} for each in (tried, meant))
    return new > old and len(tried.puzzles) <= len(meant.puzzles)


def _setting(guide: Guide, language: Language, question: str | None) -> Setting:
    return Setting(
        words=language.words,
        questions=guide.topic.questions,
        makers=guide.shop.makers,
        gauges=guide.topic.gauges,
        confirming=False,
        **_open(guide, language, question),
    )


def _open(guide: Guide, language: Language, question: str | None) -> dict[str, Any]:
    row = guide.topic.questions.get(question or "")
    choices = row.choices if row is not None else ()
    labels = tuple(label(guide, language.texts, row, choice) for choice in choices) if row is not None else ()
    return {"open_question": question, "choices": choices, "labels": labels}


# --- what becomes of it -------------------------------------------------------------------------------------------


def continued(line: Line, seen: Seen) -> Line:
    """What is told now: this, with all that was told before if it goes on with that."""
    known = {reading.question: reading for reading in line.readings}
    answers = line.question is not None and any(f.reading.question == line.question for f in seen.facts)
    clash = any(known.get(f.reading.question, f.reading) != f.reading for f in seen.facts)
    before = line.facts if (answers or (line.question and len(seen.facts) == 1)) and not clash else ()
    fresh = tuple(f for f in seen.facts if f.reading not in [fact.reading for fact in before])
    return Line((*before, *fresh), None, line.number + 1)


def chosen(guide: Guide, line: Line, choice: str) -> Seen | None:
    """What pressing a choice says; None for one that does not belong to what is missing."""
    question = guide.topic.questions.get(line.question or "")
    if question is None:
        return None
    if choice == UNSURE:
        return Seen((Fact(UnsureReading(question.id), choice),))
    return Seen((Fact(ChoiceReading(question.id, choice), choice),)) if choice in question.choices else None


def settled(guide: Guide, line: Line) -> tuple[Line, NextStep]:
    """The line with what is missing, and what follows from it."""
    readings = (*_wheel_out(guide, line), *line.readings)
    told = {reading.question for reading in readings}
    step = next_step(at_the_bench(guide.topic), readings, {}, frozenset(), guide.barred | told)
    if step.decision.kind == "answer" and told & set(guide.topic.flow.outcomes.sights):
        against = contradicted(guide.topic, step.decision, readings)
        decision = Decision("person", (), step.decision.loss) if against else step.decision
        step = replace(step, question=None, decision=decision)
    by_hand = try_by_hand(guide.topic, step.decision) if step.question is None else None
    if by_hand is not None and by_hand not in guide.barred | told:
        step = replace(step, question=by_hand)  # the tools hang within reach
    return replace(line, question=step.question), step


def stops(guide: Guide, code: str, text: str) -> bool:
    """Whether a line says something of the fitting for which nobody is to use a tool: that it is worn, say."""
    line, step = settled(guide, continued(Line(), read_line(guide, code, text)))
    told = {reading.question for reading in line.readings}
    return step.referral is not None and bool(told & set(guide.topic.flow.outcomes.sights))


def _wheel_out(guide: Guide, line: Line) -> tuple[Reading, ...]:
    told = {reading.question for reading in line.readings}
    abilities = (q for q in guide.topic.flow.questions if q.purpose == "ability" and q.id not in told)
    return tuple(ChoiceReading(question.id, question.choices[0]) for question in abilities)


@lru_cache(maxsize=64)  # a branch each
def at_the_bench(topic: Topic) -> Topic:
    """The topic for people who look at wheels every day."""
    flow = topic.flow
    questions = tuple(
        q.model_copy(
            update=({"price": min(q.price, PRICE)} if q.id in flow.outcomes.sights else {})
            | ({} if q.slip is None else {"slip": q.slip * SLIPS})
        )
        for q in flow.questions
    )
    noise = flow.noise.model_copy(update={"miss": flow.noise.miss * SLIPS, "ends": flow.noise.ends * SLIPS})
    return replace(topic, flow=flow.model_copy(update={"questions": questions, "noise": noise}))


# --- kept between two lines ---------------------------------------------------------------------------------------


def line_json(line: Line, at: Any) -> dict[str, Any]:
    """A line as it is kept."""
    return {"told": to_json(Answered(at, line.facts)), "question": line.question, "number": line.number}


def line_of(kept: Any) -> Line:
    """The line that was kept; an empty one for none, and for one of another edition."""
    try:
        told = from_json(kept["told"])
        assert isinstance(told, Answered)
        return Line(told.facts, kept["question"], kept["number"])
    except (KeyError, TypeError, ValueError, AssertionError):
        return Line()
