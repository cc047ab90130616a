"""Understanding one message: everything found in it, put together into one result.

Rules of this file: what goes before what. A message that is only a command is that command; facts go
before commands that stand among them; what is not known or only asked about is no fact; what comes after "no wait"
replaces what came before it; two different answers to one question without such words are a puzzle and no fact.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import cast

from triagebot.conversation.understanding import choices, commands
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.finding import find, phrase_for_open
from triagebot.conversation.understanding.judging import judged, of_this_wheel
from triagebot.conversation.understanding.layout import Layout, Setting, Span, lay_out, looks_like_code
from triagebot.conversation.understanding.other_languages import foreign
from triagebot.conversation.understanding.plain_answer import plain_answer
from triagebot.conversation.understanding.settling import counted_again, in_force, leading_answer, settle, turns_of
from triagebot.conversation.understanding.words import Words
from triagebot.conversation.understood import Aside, Command, Fact, Meaning, Puzzle, Tone
from triagebot.identify.readings import ChoiceReading, CountReading, UnsureReading

#: Words that say nothing to us: from this many on, a message with nothing else in it is off-topic.
OFF_TOPIC_WORDS = 3


def understand(text: str, setting: Setting) -> Meaning:
    """What `text` means where the conversation stands. Pure; raises nothing, whatever the text."""
    return plain_answer(text, setting) or read_in_full(text, setting)


def read_in_full(text: str, setting: Setting) -> Meaning:
    """The same, also for what is plain at first sight."""
    layout = lay_out(text, setting)
    cut = layout.plain.cut
    if not layout.tokens:
        return _wordless(layout, cut)
    said = commands.whole(layout)
    if said is not None and said.command == "change" and (corrected := _corrected_answer(layout)) is not None:
        return Meaning((corrected,), cut=cut)
    if said is not None and said.command not in commands.SOFT and not phrase_for_open(layout):
        return Meaning(command=said.command, target=said.target, cut=cut, whole=True)
    if said is not None and setting.confirming and said.command in ("yes", "no"):
        return Meaning(command=said.command, cut=cut)
    if (target := commands.only_a_name(layout)) is not None:
        return Meaning(target=target, cut=cut)
    if (corrected := _corrected_answer(layout)) is not None:
        return Meaning((corrected,), cut=cut)
    found, doubts, mentions = find(layout, said)
    found, doubts, asides = of_this_wheel(layout, found, doubts)
    limits = layout.words.sureness
    before = found
    turns = turns_of(layout) if found else None
    every, at_first = settle(layout, found, turns)
    holding = in_force(found, every)
    kept_ones = set(holding)
    replaced = [f for f in found if f not in kept_ones]
    found = judged(layout, holding, asides, said)
    doubted = counted_again(found, limits)
    sure = [f for f in found if f.sure >= limits.fact and f.reading.question not in doubted]
    facts, conflicts = (every, at_first) if sure == before else settle(layout, sure, turns)
    told = {fact.reading.question for fact in facts}
    likely = [f for f in found if f.reading.question in doubted or limits.ask <= f.sure < limits.fact]
    most_likely, clashes = settle(layout, [f for f in likely if f.reading.question not in told], turns)
    asked = [_asked_back(fact) for fact in most_likely]
    conflicts += tuple(puzzle for puzzle in clashes if puzzle.question in doubted)
    less_likely = [f for f in found if f.sure < limits.ask and f.reading.question not in told]
    unlikely = settle(layout, less_likely, turns)[0]
    puzzles = tuple(d.puzzle for d in sorted(doubts, key=lambda d: d.first) if d.puzzle.question not in _known(facts))
    puzzles = tuple(dict.fromkeys((*conflicts, *puzzles, *asked)))
    kept = [f for f in found if f.sure >= limits.ask]
    command, target = _command(layout, said, facts, puzzles, bool(before))
    tone = _tone(layout, bool(facts or puzzles or command), mentions)
    passed = dict.fromkeys((scope, layout.quote(f.first, f.last)) for f, scope in asides)
    whole = command is not None and (command not in commands.SOFT or said is not None)
    language = None if whole or len(layout.tokens) < 2 else foreign(text, layout.words)
    if language is not None:
        return Meaning(tone="off-topic", cut=cut, language=language)
    nothing = not (facts or puzzles or command)
    said_back = {d.first for d in doubts if d.puzzle in puzzles}
    return Meaning(
        _corrections(facts, every), command, target, puzzles, mentions, tone, cut,
        asides=tuple(passed),
        mood=_mood(layout) if nothing else None,
        unread=_unread(layout, kept + replaced, holding, asides, said_back) if facts else "",
        insists=layout.setting.open_question is not None and commands.insists(layout),
        dropped=tuple(_asked_back(f) for f in unlikely if not isinstance(f.reading, UnsureReading)),
    )  # fmt: skip


def _asked_back(fact: Fact) -> Puzzle:
    return Puzzle("likely", fact.reading.question, fact.text, fact.reading)


def _corrections(facts: tuple[Fact, ...], every: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """The facts, each with whether it corrects something that was said before it in the message, as among `every` one
    that was found."""
    corrects = {fact.reading for fact in every if fact.corrects}
    return tuple(replace(fact, corrects=fact.corrects or fact.reading in corrects) for fact in facts)


def _mood(layout: Layout) -> Aside | None:
    """What the first statement that is no news of this wheel speaks of."""
    if looks_like_code(layout):
        return None
    others = [scope for scope in layout.scopes if scope not in ("own", "tentative")]
    if others and layout.plain.text.rstrip().endswith("?"):
        return "question"
    return cast(Aside, others[0]) if others else None


def _unread(
    layout: Layout, found: list[Found], before: list[Found], asides: list[tuple[Found, Aside]], doubted: set[int]
) -> str:
    """The words around the first number or telling phrase that no reading came from, or that gave one which was too
    little sure, if there is one; `before` are all readings, of which `found` are left."""
    told = {f.reading.question for f in found}
    said_too = [f for f in before if f.reading.question in told]
    read = (
        {place for f in (*found, *said_too, *(f for f, _ in asides)) for place in range(f.first, f.last + 1)}
        | doubted
        | _counts_of_choices(layout, found)
    )
    lost = [f for f in before if f.reading.question not in told and not isinstance(f.reading, UnsureReading)]
    lost = [f for f in lost if read.isdisjoint(range(f.first, f.last + 1))]
    if lost:
        return layout.quote(lost[0].first, lost[0].last)
    for span in layout.spans:
        places = range(span.first, span.last + 1)
        if read.intersection(places) or span.of("ignore") or layout.scopes[span.first] not in ("own", "tentative"):
            continue
        telling = any(meaning.kind == "choice" and not meaning.bound for meaning in span.meanings)
        shy = layout.plain.text[span.token.start : span.token.end] in layout.words.shy
        number = span.token.number is not None and not span.meanings and not shy and not _of_other_things(layout, span)
        if number or telling:
            last = span.last + 1
            beside = number and last < len(layout.tokens) and layout.tokens[last].clause == span.clause
            return layout.quote(span.first, last if beside and last not in read else span.last)
    return ""


def _counts_of_choices(layout: Layout, found: list[Found]) -> set[int]:
    """Where a count stands that a choice has by itself, with what is counted: the "nine splines" of one narrower."""
    own = layout.words.own_counts
    chosen = [f.reading for f in found if isinstance(f.reading, ChoiceReading)]
    numbers = {n for each in chosen for counts in own.get((each.question, each.choice), {}).values() for n in counts}
    at = [n for n, token in enumerate(layout.tokens) if token.number and token.number.value in numbers]
    return {place for n in at for place in (n, n + 1)}


def _of_other_things(layout: Layout, span: Span) -> bool:
    """Whether the number is of minutes, euros and the like."""
    return any(s.first == span.last + 1 and s.clause == span.clause and s.of("elsewhere") for s in layout.spans)


def _corrected_answer(layout: Layout) -> Fact | None:
    """ "Change to yes": a yes or no to the open question behind nothing but words of correction."""
    if layout.setting.confirming or not layout.spans[0].of("correction"):
        return None
    start = layout.spans[0].last + 1
    rest = " ".join(token.key for token in layout.tokens[start:] if token.kind != "mark")
    command = layout.words.alone.get(rest)
    if command not in ("yes", "no") or (answer := choices.yes_or_no(layout, command)) is None:
        return None
    return Fact(answer, layout.quote(0, len(layout.tokens) - 1), corrects=True)


def _known(facts: tuple[Fact, ...]) -> frozenset[str]:
    return frozenset(f.reading.question for f in facts if not isinstance(f.reading, UnsureReading))


def _wordless(layout: Layout, cut: bool) -> Meaning:
    if layout.plain.source.strip() and (said := commands.whole(layout)):
        return Meaning(command=said.command, cut=cut, whole=True)
    return Meaning(tone="symbols" if layout.plain.text.strip() else "empty", cut=cut)


def _command(
    layout: Layout, said: commands.Said | None, facts: tuple[Fact, ...], puzzles: tuple[Puzzle, ...], read: bool
) -> tuple[Command | None, str | None]:
    if said is not None and not facts:
        asked_back = said.command in ("yes", "no") and bool(puzzles)
        return (None, None) if asked_back else (said.command, said.target)
    withdrawn = commands.withdrawn(layout)
    if withdrawn is not None and withdrawn not in {f.reading.question for f in facts}:
        return ("change", withdrawn) if not facts else (None, None)
    inside = commands.within(layout)
    if inside is not None and _stands(layout, inside, facts, puzzles):
        return inside.command, inside.target
    if layout.setting.confirming and (lead := leading_answer(layout)) is not None:
        return lead, None
    if facts or puzzles:
        return None, None
    other = commands.of_a_clause(layout) or commands.slipped(layout)
    if other is not None and not (other.command == "back" and read):
        return other.command, other.target  # "oops, 12 rather than 13" takes nothing back by itself
    return leading_answer(layout), None


def _stands(layout: Layout, said: commands.Said, facts: tuple[Fact, ...], puzzles: tuple[Puzzle, ...]) -> bool:
    """Whether a command inside the message counts beside what else is in it."""
    if said.command == "how" and said.target is None and any(span.of("off-topic") for span in layout.spans):
        return False
    if said.command == "change" and puzzles:
        return False
    elsewhere = layout.scopes[layout.spans[said.place].first] == "other" or commands.of_other_trades(layout)
    if said.command == "person" and elsewhere:
        return False  # "I need a mechanic, the light of my car is on"
    if not facts or said.command == "person":
        return True
    clause = layout.spans[said.place].clause
    behind = any(span.of("choice") or span.of("noun") for span in layout.spans if span.clause > clause)
    return said.command in commands.BESIDE_FACTS and not behind


def _tone(layout: Layout, understood: bool, mentions: tuple[str, ...]) -> Tone:
    if understood:
        return "plain"
    kinds = {m.kind for span in layout.spans for m in span.meanings if m.bound != "beside"}
    if "hostile" in kinds:
        return "hostile"
    if "off-topic" in kinds:
        return "off-topic"
    if mentions or kinds & {"noun", "choice", "gauge", "name", "means", "comparison", "ignore"}:
        return "plain"
    if not any(t.kind in ("word", "number", "junk") for t in layout.tokens):
        return "symbols"
    strange = sum(
        token.kind == "word" and token.key not in layout.words.fillers
        for span in layout.spans
        if all(m.bound == "beside" for m in span.meanings)
        for token in layout.tokens[span.first : span.last + 1]
    )
    return "off-topic" if strange >= OFF_TOPIC_WORDS else "plain"


def counted_only(words: Words, facts: Sequence[Fact], told: Mapping[str, str]) -> tuple[Fact, ...]:
    """Without a general choice whose words only name what is counted, where a finer one was `told` before:
    "3 notches" of a ring with notches on the rim does not put them inside."""
    counted = [fact.text for fact in facts if isinstance(fact.reading, CountReading)]
    return tuple(fact for fact in facts if not _names_what_is_counted(words, fact, counted, told))


def _names_what_is_counted(words: Words, fact: Fact, counted: Sequence[str], told: Mapping[str, str]) -> bool:
    reading = fact.reading
    if not isinstance(reading, ChoiceReading) or reading.denied or fact.corrects:
        return False
    general = words.finer.get(reading.question, {}).get(told.get(reading.question, ""), ())
    return reading.choice in general and any(fact.text in text for text in counted)
