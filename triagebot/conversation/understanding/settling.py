"""From everything found in a message to facts that do not contradict each other.

Decided here and nowhere else: what stands behind "no wait" replaces what stood before it for the same question; two
answers to one question without such words are a conflict and no fact; a listed choice makes its denials superfluous.
"""

from triagebot.conversation.understanding import choices
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.scene import Scene, Span
from triagebot.conversation.understood import Command, Fact, Puzzle
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading

#: Two sizes of one part this close (mm) are one size measured twice.
SAME_SIZE = 2.0


def leading_answer(scene: Scene) -> Command | None:
    """The yes or no that begins a longer message: "yes, and it has 12 splines"."""
    if scene.spans[0].of("unsure"):
        return None
    clause = scene.tokens[0].clause
    first = [t.key for t in scene.tokens if t.clause == clause and t.kind != "mark"]
    command = scene.words.alone.get(" ".join(first))
    if command is None and first:
        command = scene.words.alone.get(first[0])
        if len(first) > 1 and first[1] in scene.words.vocabulary and first[0] == "no" and _denies(scene):
            return None
    return command if command in ("yes", "no") else None


def _denies(scene: Scene) -> bool:
    return any(span.of("choice") or span.of("noun") for span in scene.spans[1:4])


def settle(scene: Scene, found: list[Found]) -> tuple[tuple[Fact, ...], tuple[Puzzle, ...]]:
    """Facts of the message in its own order, after corrections; conflicts that corrections did not settle."""
    lead = leading_answer(scene)
    answers = lead == "no" and not scene.setting.confirming and choices.yes_or_no(scene, "no") is not None
    turns = [span.first for span in scene.spans if span.of("correction") or _changes(span)]
    if lead == "no" and not answers and len({t.clause for t in scene.tokens}) > 1:
        turns.append(0)
    facts: list[tuple[int, Fact]] = []
    puzzles: list[tuple[int, Puzzle]] = []
    for question in dict.fromkeys(f.reading.question for f in found):
        mine = [f for f in found if f.reading.question == question]
        latest = max(_segment(f, turns) for f in mine)
        mine = [f for f in mine if _segment(f, turns) == latest]
        first, last = min(f.first for f in mine), max(f.last for f in mine)
        corrects = latest > 0 and not all(f.plain for f in mine)
        settled = _agree([f.reading for f in mine])
        if settled is None:
            puzzles.append((first, Puzzle("conflict", question, scene.quote(first, last))))
        else:
            for reading in settled:
                own = [f for f in mine if f.reading == reading] or mine
                start, end = min(f.first for f in own), max(f.last for f in own)
                facts.append((start, Fact(reading, scene.quote(start, end), corrects)))
    facts.sort(key=lambda pair: pair[0])
    return tuple(fact for _, fact in facts), tuple(puzzle for _, puzzle in sorted(puzzles, key=lambda p: p[0]))


def _changes(span: Span) -> bool:
    meaning = span.of("command")
    return meaning is not None and meaning.subject == "change"


def _segment(found: Found, turns: list[int]) -> int:
    return sum(turn <= found.first and (turn < found.last or turn == 0) for turn in turns)


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
