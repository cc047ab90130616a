"""From everything found in a message to facts that do not contradict each other.

Rules of this file: what stands behind "no wait" replaces what stood before it for the same question; two
answers to one question without such words are a conflict and no fact; a listed choice makes its denials superfluous.
"""

from bisect import bisect_right
from dataclasses import dataclass
from typing import TypeGuard

from triagebot.conversation.understanding import choices
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.commands import answers_first
from triagebot.conversation.understanding.layout import Layout, Span
from triagebot.conversation.understanding.lexicon import Sureness
from triagebot.conversation.understanding.results import results
from triagebot.conversation.understanding.specific import narrowed
from triagebot.conversation.understood import Command, Fact, Puzzle
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading

#: Two sizes of one part this close (mm) are one size measured twice.
SAME_SIZE = 2.0
#: A yes or no that begins a thought answers beside at most this many words that say something else.
STRAY = 1


def leading_answer(layout: Layout) -> Command | None:
    """The yes or no that begins a longer message: "yes, and it has 12 splines"."""
    if any(layout.spans[0].of(kind) for kind in ("unsure", "choice", "ignore")):
        return None
    clause = layout.tokens[0].clause
    first = [t.key for t in layout.tokens if t.clause == clause and t.kind != "mark"]
    if {"yes", "no"} == {layout.alone.get(key) for key in first if key not in layout.words.number_joints}:
        return None  # "yes and no"
    command = layout.alone.get(" ".join(first))
    if first and layout.words.leads and first[0] not in layout.words.leads and not layout.setting.confirming:
        return None  # "ok, let me look", "right, so ..."
    if command is None and len(first) > 1 and first[1] in layout.words.turning:
        command = layout.alone.get(first[0])  # "no cause I'm scared to unplug it"
    if command is None and first and layout.stray.get(clause, 0) <= STRAY and answers_first(layout):
        command = layout.alone.get(first[0])
        if len(first) > 1 and first[1] in layout.words.vocabulary and first[0] == "no" and _denies(layout):
            return None
        if len(first) > 1 and command == "yes" and first[1] in layout.words.denials:
            return None  # "definitely not splines"
    return command if command in ("yes", "no") else None


def _denies(layout: Layout) -> bool:
    told = [span for span in layout.spans[1:4] if layout.scopes[span.first] not in ("question", "about")]
    return any(span.of("choice") or span.of("noun") for span in told)


def without_counts_of_others(layout: Layout, found: list[Found]) -> list[Found]:
    """Leave out counts that a choice in the message has taken: the body's nine splines, a hub gear's three speeds.

    A choice that only its count makes out ("one of them narrower") goes when another count is said beside it.
    """
    words = layout.words
    kept = found
    for f in found:
        reading = f.reading
        if not isinstance(reading, ChoiceReading) or reading.denied:
            continue
        key = (reading.question, reading.choice)
        lost = words.no_counts.get(key, frozenset())
        clause = layout.tokens[f.first].clause
        if lost:
            kept = [
                k
                for k in kept
                if k.reading.question not in lost
                or not (k.total or (k.last + 1 == f.first and layout.tokens[k.last].clause == clause))
            ]
        for question, numbers in words.own_counts.get(key, {}).items():
            counts = [k for k in kept if isinstance(k.reading, CountReading) and k.reading.question == question]
            own = [k for k in counts if isinstance(k.reading, CountReading) and k.reading.low in numbers]
            said = any(t.number and t.number.value in numbers for t in layout.tokens[f.first : f.last + 1])
            if counts and not own and not said:
                kept = [k for k in kept if k is not f]
            kept = [k for k in kept if k not in own and not any(_within_span(k, o) for o in own)]
    return kept


def without_outranked(layout: Layout, found: list[Found]) -> list[Found]:
    """Leave out choices that another one in the message goes before: the nuts beside a motor's cable."""
    said = {(f.reading.question, f.reading.choice) for f in found if _listed(f.reading)}
    lesser = {
        (question, choice)
        for question, ranks in layout.words.topic.outranks.items()
        for first, behind in ranks.items()
        if (question, first) in said
        for choice in behind
    }
    return [f for f in found if not (_listed(f.reading) and (f.reading.question, f.reading.choice) in lesser)]


def _listed(reading: Reading) -> TypeGuard[ChoiceReading]:
    return isinstance(reading, ChoiceReading) and not reading.denied


def _within_span(inner: Found, outer: Found) -> bool:
    choice = isinstance(inner.reading, ChoiceReading)
    return choice and outer.first <= inner.first and inner.last <= outer.last


def in_force(found: list[Found], facts: tuple[Fact, ...]) -> list[Found]:
    """Without what something behind it in the message corrects, `facts` being what is found, settled: "nuts ... no, a
    lever"."""
    settled = {f.reading.question: f.reading for f in facts}
    own = {f.reading for f in found}
    return [
        f
        for f in found
        if (last := settled.get(f.reading.question)) is None
        or last not in own
        or f.reading == last
        or not _rivals(f, last)
    ]


def _rivals(found: Found, last: Reading) -> bool:
    """Whether one of the two can hold at most: two choices, two counts."""
    first = found.reading
    if isinstance(first, ChoiceReading) and isinstance(last, ChoiceReading):
        return not first.denied and not last.denied
    return isinstance(first, CountReading) and isinstance(last, CountReading)


def counted_again(found: list[Found], limits: Sureness) -> frozenset[str]:
    """Questions whose count is doubted by another one behind it: "eight. or was it nine?"."""
    counts = [(f, f.reading) for f in found if isinstance(f.reading, CountReading) and f.sure >= limits.ask]
    return frozenset(
        said.question
        for f, said in counts
        for other, again in counts
        if f.sure >= limits.fact > other.sure
        and other.first > f.last
        and said.question == again.question
        and (again.high < said.low or again.low > said.high)
    )


@dataclass(frozen=True, slots=True)
class Turns:
    """Where what is said takes the place of what stands before it, as tokens in order: behind a correction, behind
    what was only said or thought before, and where a result begins."""

    corrected: list[int]
    holding: list[int]
    results: list[int]


def turns_of(layout: Layout) -> Turns:
    """Where a message turns. All that is found in it is settled by the same."""
    lead = leading_answer(layout)
    answers = lead == "no" and not layout.setting.confirming and choices.yes_or_no(layout, "no") is not None
    answering = not layout.setting.confirming and choices.yes_or_no(layout, "no") is not None
    turns = [
        span.first
        for span in layout.spans
        if (span.of("correction") or _changes(span)) and not (answering and _is_an_answer(layout, span))
    ]
    turns += [first for first in _lone_denials(layout) if first]
    if lead == "no" and not answers and len({t.clause for t in layout.tokens}) > 1:
        turns.append(0)
    starts = sorted(layout.spans[place].first for place in results(layout))
    return Turns(sorted(turns), _after_what_was_said(layout), starts)


def settle(
    layout: Layout, found: list[Found], turns: Turns | None = None
) -> tuple[tuple[Fact, ...], tuple[Puzzle, ...]]:
    """Facts of the message in its own order, after corrections; conflicts that corrections did not settle."""
    if not found:
        return (), ()
    turns = turns or turns_of(layout)
    facts: list[tuple[int, Fact]] = []
    puzzles: list[tuple[int, Puzzle]] = []
    for question in dict.fromkeys(f.reading.question for f in found):
        mine = [f for f in found if f.reading.question == question]
        latest = max(_segment(f, turns.corrected) for f in mine)
        mine = [f for f in mine if _segment(f, turns.corrected) == latest]
        holding = max(_segment(f, turns.holding) for f in mine)
        mine = [f for f in mine if _segment(f, turns.holding) == holding]
        mine = _latest_numbers(mine, turns.results)
        mine = narrowed(layout.words, question, mine)
        first, last = min(f.first for f in mine), max(f.last for f in mine)
        corrects = latest > 0 and not all(f.plain for f in mine)
        settled = _agree([f.reading for f in mine])
        if settled is None:
            puzzles.append((first, Puzzle("conflict", question, layout.quote(first, last))))
        else:
            for reading in settled:
                own = [f for f in mine if f.reading == reading] or mine
                start, end = min(f.first for f in own), max(f.last for f in own)
                facts.append((start, Fact(reading, layout.quote(start, end), corrects)))
    facts.sort(key=lambda pair: pair[0])
    return tuple(fact for _, fact in facts), tuple(puzzle for _, puzzle in sorted(puzzles, key=lambda p: p[0]))


def _after_what_was_said(layout: Layout) -> list[int]:
    """Where what holds now begins behind what was said or thought at first: "I said splines but it's notches"."""
    words, told, turns = layout.words, False, []
    for place, token in enumerate(layout.tokens):
        parted = place > 0 and token.clause != layout.tokens[place - 1].clause
        if told and place and (parted or token.key in words.turning):
            turns.append(place)
            told = False
        told = told or token.key in words.earlier
    return turns


def _latest_numbers(found: list[Found], starts: list[int]) -> list[Found]:
    """Of several numbers for one question those behind the last of `starts`."""
    if not all(isinstance(f.reading, CountReading | SizeReading) for f in found):
        return found
    latest = max(_segment(f, starts) for f in found)
    return [f for f in found if _segment(f, starts) == latest]


def _is_an_answer(layout: Layout, span: Span) -> bool:
    """ "No, it ..." to a question that a no answers."""
    ends_so = layout.tokens[span.last].key in layout.words.subjects
    return span.first == 0 and span.last > 0 and ends_so and layout.words.alone.get(layout.key(0)) == "no"


def _lone_denials(layout: Layout) -> list[int]:
    """Where a clause is nothing but a no: "11. No, 12."."""
    words, tokens = layout.words, layout.tokens
    noes = [place for place, token in enumerate(tokens) if words.alone.get(token.key) == "no"]
    around = [(place, place - 1, place + 1) for place in noes]
    return [
        place
        for place, before, after in around
        if (before < 0 or tokens[before].clause != tokens[place].clause)
        and (after == len(tokens) or tokens[after].clause != tokens[place].clause)
    ]


def _changes(span: Span) -> bool:
    meaning = span.of("command")
    return meaning is not None and meaning.subject == "change"


def _segment(found: Found, turns: list[int]) -> int:
    """In which part of the message a reading stands, where `turns`, in order, part them."""
    return bisect_right(turns, found.first) - (turns.count(found.first) if found.first == found.last > 0 else 0)


def _agree(readings: list[Reading]) -> tuple[Reading, ...] | None:
    """What several readings of one question come to, or None when they contradict each other."""
    plain = list(dict.fromkeys(r for r in readings if not isinstance(r, UnsureReading)))
    if not plain:
        return (readings[0],)
    named = [r for r in plain if isinstance(r, ChoiceReading) and not r.denied]
    denied = [r for r in plain if isinstance(r, ChoiceReading) and r.denied]
    if named:
        clash = len(named) > 1 or any(d.choice == named[0].choice for d in denied)
        return None if clash else (named[0],)
    if denied:
        return tuple(denied)
    if len(plain) == 1:
        return (plain[0],)
    counts = [r for r in plain if isinstance(r, CountReading)]
    if counts:
        low, high = max(c.low for c in counts), min(c.high for c in counts)
        return (CountReading(counts[0].question, low, high),) if low <= high else None
    sizes = [r for r in plain if isinstance(r, SizeReading)]
    if sizes:
        low_mm, high_mm = min(s.mm for s in sizes), max(s.mm for s in sizes)
        if high_mm - low_mm > SAME_SIZE:
            return None
        half = max((high_mm - low_mm) / 2, *(s.half_width for s in sizes))
        means = sizes[0].means if len({s.means for s in sizes}) == 1 else "unknown"
        return (SizeReading(sizes[0].question, round((low_mm + high_mm) / 2, 3), round(half, 3), means),)
    return _within([r for r in plain if isinstance(r, BoundReading)])


def _within(bounds: list[BoundReading]) -> tuple[Reading, ...] | None:
    """Bounds put together: a range when there is one from each side, None when they leave nothing between."""
    low = max((b.low for b in bounds if b.low is not None), default=None)
    high = min((b.high for b in bounds if b.high is not None), default=None)
    question, means = bounds[0].question, bounds[0].means if len({b.means for b in bounds}) == 1 else "unknown"
    if low is None or high is None:
        return (BoundReading(question, low, high, means),)
    if low >= high:
        return None
    return (SizeReading(question, round((low + high) / 2, 3), round((high - low) / 2, 3), means),)
