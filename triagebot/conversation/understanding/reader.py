"""Understanding one message: everything found in it, put together into one result.

Rules of this file: what goes before what. A message that is only a command is that command; facts go
before commands that stand among them; what is not known or only asked about is no fact; what comes after "no wait"
replaces what came before it; two different answers to one question without such words are a puzzle and no fact.
"""

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import cast

from triagebot.conversation.understanding import choices, commands
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.gauges import Compared, compared
from triagebot.conversation.understanding.guess import ANYTHING, NOTHING, SOMETHING, UNSURE, VALUE, answer_of, features
from triagebot.conversation.understanding.joining import Quantity
from triagebot.conversation.understanding.layout import Layout, Setting, lay_out
from triagebot.conversation.understanding.lexicon import Scope
from triagebot.conversation.understanding.other_languages import foreign
from triagebot.conversation.understanding.quantities import quantities
from triagebot.conversation.understanding.results import lone_noes
from triagebot.conversation.understanding.roles import MOST_BARE, looks_like_code
from triagebot.conversation.understanding.settling import (
    leading_answer,
    settle,
    without_counts_of_others,
    without_outranked,
)
from triagebot.conversation.understanding.sizes import instrument, measured
from triagebot.conversation.understanding.specific import uncovered, unsure_of_open, without_single
from triagebot.conversation.understanding.words import AFTER_ALL
from triagebot.conversation.understood import Aside, Command, Fact, Meaning, Puzzle, Tone
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.topics.schema import Question

#: "11 or 12" is one count known to this many; wider apart they are two answers.
EITHER = 3
#: A message with a length that cannot be is about the part when it has at most this many words.
CURT = 4
#: In a message of at most this many words a decimal on its own is about the part.
SHORT_REMARK = 10
#: How sure a reading is that is only guessed at, or rests on a word that was most likely mistyped; and how sure one
#: must be to count without asking back, or to be asked back at all. Below `DOUBTED`, or when the whole message says
#: something of this wheel with less than `GATE`, even what the rules read is doubted.
TENTATIVE, GUESSED, SURE, ASK, DOUBTED, GATE = 0.6, 0.75, 0.9, 0.5, 0.2, 0.5
#: A list of at least so many numbers, each within these, is of sprockets by their teeth.
FEWEST_LISTED, TEETH = 4, (9, 60)
_SEPARATOR = re.compile(r"\s*[-/,.]\s*")
#: Behind these a thing is named, and no new statement begins; behind some of them it may be a foreign one.
OWNING = frozenset({"the", "my", "this", "that", "these", "those"})
NAMING = frozenset({"the", "my", "your", "our", "his", "her", "to"})
#: Words that say nothing to us: from this many on, a message with nothing else in it is off-topic.
OFF_TOPIC_WORDS = 3


@dataclass(frozen=True, slots=True)
class _Doubt:
    puzzle: Puzzle
    first: int


def understand(text: str, setting: Setting) -> Meaning:
    """What `text` means where the conversation stands. Pure; raises nothing, whatever the text."""
    layout = lay_out(text, setting)
    cut = layout.plain.cut
    if not layout.tokens:
        return _wordless(layout, cut)
    said = commands.whole(layout)
    if said is not None and said.command == "change" and (corrected := _corrected_answer(layout)) is not None:
        return Meaning((corrected,), cut=cut)
    if said is not None and said.command not in commands.SOFT and not _phrase_for_open(layout):
        return Meaning(command=said.command, target=said.target, cut=cut, whole=True)
    if said is not None and setting.confirming and said.command in ("yes", "no"):
        return Meaning(command=said.command, cut=cut)
    if (target := commands.only_a_name(layout)) is not None:
        return Meaning(target=target, cut=cut)
    if (corrected := _corrected_answer(layout)) is not None:
        return Meaning((corrected,), cut=cut)
    found, doubts, mentions = _read(layout, said)
    found, doubts, asides = _of_this_wheel(layout, found, doubts)
    found = _judged(layout, found, asides, said)
    sure = [f for f in found if f.sure >= SURE]
    facts, conflicts = settle(layout, sure)
    told = {fact.reading.question for fact in facts}
    likely = [f for f in found if ASK <= f.sure < SURE and f.reading.question not in told]
    asked = [Puzzle("likely", fact.reading.question, fact.text, fact.reading) for fact in settle(layout, likely)[0]]
    puzzles = tuple(d.puzzle for d in sorted(doubts, key=lambda d: d.first) if d.puzzle.question not in _known(facts))
    puzzles = tuple(dict.fromkeys((*conflicts, *puzzles, *asked)))
    command, target = _command(layout, said, facts, puzzles)
    tone = _tone(layout, bool(facts or puzzles or command), mentions)
    passed = dict.fromkeys((scope, layout.quote(f.first, f.last)) for f, scope in asides)
    language = None if command or len(layout.tokens) < 2 else foreign(text, layout.words)
    if language is not None:
        return Meaning(tone="off-topic", cut=cut, language=language)
    nothing = not (facts or puzzles or command)
    return Meaning(
        facts, command, target, puzzles, mentions, tone, cut,
        asides=tuple(passed),
        mood=_mood(layout) if nothing else None,
        unread=_unread(layout, found, asides, {d.first for d in doubts}) if facts else "",
        insists=layout.setting.open_question is not None and commands.insists(layout),
    )  # fmt: skip


def _mood(layout: Layout) -> Aside | None:
    """What the first statement that is no news of this wheel speaks of."""
    if looks_like_code(layout):
        return None
    return next((cast(Aside, scope) for scope in layout.scopes if scope not in ("own", "tentative")), None)


def _unread(layout: Layout, found: list[Found], asides: list[tuple[Found, Aside]], doubted: set[int]) -> str:
    """The words around the first number or telling phrase that no reading came from, if there is one."""
    read = {place for f in (*found, *(f for f, _ in asides)) for place in range(f.first, f.last + 1)} | doubted
    for span in layout.spans:
        places = range(span.first, span.last + 1)
        if read.intersection(places) or span.of("ignore") or layout.scopes[span.first] not in ("own", "tentative"):
            continue
        telling = any(meaning.kind == "choice" and not meaning.bound for meaning in span.meanings)
        shy = layout.plain.text[span.token.start : span.token.end] in layout.words.shy
        number = span.token.number is not None and not span.meanings and not shy
        if number or telling:
            last = span.last + 1
            beside = number and last < len(layout.tokens) and layout.tokens[last].clause == span.clause
            return layout.quote(span.first, last if beside and last not in read else span.last)
    return ""


def seen(layout: Layout) -> dict[str, float]:
    """What the learned part of the reader sees of a message."""
    said = commands.whole(layout)
    found, doubts, _ = _read(layout, said)
    kept, _, asides = _of_this_wheel(layout, found, doubts)
    return _seen(layout, kept, asides, said)


def _seen(
    layout: Layout, kept: list[Found], asides: list[tuple[Found, Aside]], said: commands.Said | None
) -> dict[str, float]:
    readings = [(f.reading, True) for f in kept] + [(f.reading, False) for f, _ in asides]
    return features(layout, readings, said.command if said is not None else None)


def _judged(
    layout: Layout, found: list[Found], asides: list[tuple[Found, Aside]], said: commands.Said | None
) -> list[Found]:
    """Each reading as sure as the learned part makes it, and the open question's likeliest answer where the rules read
    nothing."""
    guess = layout.words.guess
    if guess is None:
        return found
    shares = guess.shares(_seen(layout, found, asides, said))
    of_this_wheel = shares.get(ANYTHING, {}).get(SOMETHING, 1.0)
    judged = []
    for f in found:
        share = shares.get(f.reading.question, {}).get(answer_of(f.reading), 1.0)
        learned = f.reading.question in shares and f.reading.question != layout.words.makers
        trusted = f.plain or f.picked or not learned or (share >= DOUBTED and of_this_wheel >= GATE)
        judged.append(f if trusted and f.sure == 1.0 else replace(f, sure=min(share, of_this_wheel, f.sure)))
    if said is None:
        judged += _guessed(layout, shares, {f.reading.question for f in found})
    return judged


def _guessed(layout: Layout, shares: Mapping[str, Mapping[str, float]], read: set[str]) -> Iterator[Found]:
    """The likeliest answer of each question of which the rules read nothing; to one that is not open only if it is
    sure enough to count."""
    for question, row in shares.items():
        answer = max(row, key=row.__getitem__)
        opened = question == layout.setting.open_question
        if question in read or answer in (NOTHING, VALUE, SOMETHING) or (row[answer] < SURE and not opened):
            continue
        if answer != UNSURE:
            yield Found(ChoiceReading(question, answer), 0, len(layout.tokens) - 1, sure=row[answer])
        elif opened:
            yield Found(UnsureReading(question), 0, len(layout.tokens) - 1, sure=row[answer])


def _of_this_wheel(
    layout: Layout, found: list[Found], doubts: list[_Doubt]
) -> tuple[list[Found], list[_Doubt], list[tuple[Found, Aside]]]:
    """What is said of this wheel, with how sure it is; and what is passed over, with what it speaks of."""
    kept: list[Found] = []
    asides: list[tuple[Found, Aside]] = []
    for f in found:
        scope = _scope_of(layout, f.first, f.last)
        if scope == "own" or f.picked or _holds_anyway(layout, f, scope):
            kept.append(f)
        elif scope in ("tentative", "belief"):
            kept.append(f if isinstance(f.reading, SizeReading | BoundReading) else replace(f, sure=TENTATIVE))
        else:
            asides.append((f, cast(Aside, scope)))
    spoken = [d for d in doubts if _scope_of(layout, d.first, d.first) in ("own", "tentative", "belief")]
    return [_as_sure_as_spelt(layout, f) for f in kept], spoken, asides


def _holds_anyway(layout: Layout, found: Found, scope: Scope) -> bool:
    """Whether a reading holds whatever its statement speaks of: not knowing, and what is said of the front itself
    ("motor in the front wheel")."""
    of_the_front = any(layout.key(place) in layout.words.at_the_front for place in range(found.first, found.last + 1))
    return isinstance(found.reading, UnsureReading) or (scope == "front" and of_the_front)


def _scope_of(layout: Layout, first: int, last: int) -> Scope:
    scopes = layout.scopes[first : last + 1]
    return next((scope for scope in scopes if scope not in ("own", "tentative")), scopes[-1])


def _as_sure_as_spelt(layout: Layout, found: Found) -> Found:
    """A reading from a word that was typed otherwise is no surer than the word is, unless the whole is like a label."""
    guessed = any(token.guessed for token in layout.tokens[found.first : found.last + 1])
    if not guessed or found.picked:
        return found
    if (label := choices.labelled(layout, exact=False)) is not None and label.reading == found.reading:
        return found
    return replace(found, sure=min(found.sure, GUESSED))


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


def _phrase_for_open(layout: Layout) -> bool:
    """Whether the message is one phrase of several words for the open question: "like new" begins nothing anew."""
    said = [span for span in layout.spans if span.meanings]
    if len(said) != 1 or said[0].first == said[0].last:
        return False
    meaning = said[0].of("choice")
    return meaning is not None and meaning.subject == layout.setting.open_question


def _known(facts: tuple[Fact, ...]) -> frozenset[str]:
    return frozenset(f.reading.question for f in facts if not isinstance(f.reading, UnsureReading))


def _wordless(layout: Layout, cut: bool) -> Meaning:
    if layout.plain.source.strip() and (said := commands.whole(layout)):
        return Meaning(command=said.command, cut=cut, whole=True)
    return Meaning(tone="symbols" if layout.plain.text.strip() else "empty", cut=cut)


# --- finding ------------------------------------------------------------------------------------------------------


def _read(layout: Layout, said: commands.Said | None) -> tuple[list[Found], list[_Doubt], tuple[str, ...]]:
    setting = layout.setting
    silenced, unsure = _unsure(layout)
    mentions = tuple(
        dict.fromkeys(
            m.subject
            for span in layout.spans
            for m in span.meanings
            if m.kind == "mention" and m.subject in setting.questions
        )
    )
    exact = choices.labelled(layout, exact=True)
    if exact is not None:
        return [exact], [], mentions
    found = choices.from_phrases(layout, silenced)
    moved = choices.from_motion(layout, silenced, unsure)
    read = {m.reading.question for m in moved}
    read |= {u.reading.question for u in unsure if u.reading.question in layout.words.motion}
    found = [f for f in found if f.reading.question not in read] + moved
    doubts: list[_Doubt] = []
    used: set[int] = set()
    for question in setting.questions.values():
        if question.kind == "size":
            for comparison in compared(layout, question):
                found.append(_from_comparison(layout, comparison))
                used |= comparison.spans
            break
    _numbers(layout, quantities(layout, frozenset(used)), found, doubts)
    found = without_outranked(layout, without_counts_of_others(layout, found))
    found = without_single(layout, uncovered(layout, found))
    unsure = unsure_of_open(layout, unsure)
    unknown = {u.reading.question for u in unsure}
    found = [f for f in found if not (f.reading.question in unknown and _is_open_ended(f.reading))]
    given_up = {u.reading.question: u.first for u in unsure if _after_all(layout, u)}
    found = [f for f in found if f.first > given_up.get(f.reading.question, -1)]
    answered = {f.reading.question for f in found}
    if setting.open_question not in answered:
        _answer_open(layout, said, found, doubts, bool(unsure))
    found += [u for u in unsure if u.reading.question not in {f.reading.question for f in found}]
    return found, doubts, mentions


def _is_open_ended(reading: Reading) -> bool:
    """Whether a count is only a bound, which is no news beside "I don't know": "can't count them, more than ten"."""
    return isinstance(reading, CountReading) and reading.high - reading.low > EITHER


def _after_all(layout: Layout, unsure: Found) -> bool:
    """Whether not knowing comes of what was said before it, which then is no answer."""
    span = next(span for span in layout.spans if span.first == unsure.first)
    return any(m.kind == "unsure" and m.value == AFTER_ALL for m in span.meanings)


def _from_comparison(layout: Layout, comparison: Compared) -> Found:
    spans = layout.spans
    return Found(comparison.reading, spans[max(0, comparison.first)].first, spans[comparison.last].last)


def _unsure(layout: Layout) -> tuple[frozenset[int], list[Found]]:
    """Spans that are asked about or not known, and the questions that are not known."""
    spans = layout.spans
    silenced: set[int] = set()
    unsure: list[Found] = []
    for place, span in enumerate(spans):
        asks = (m := span.of("command")) is not None and m.subject in ("how", "why")
        if not asks and not span.of("unsure"):
            continue
        named: list[str] = []
        for ahead in range(place + 1, len(spans)):
            if spans[ahead].clause != span.clause or (
                spans[ahead].of("break") and layout.key(spans[ahead].first) != "if"
            ):
                break
            silenced.add(ahead)
            named += _questions_of(layout, ahead, ("name", "choice", "noun"))
        if layout.key(span.last + 1) in layout.words.beyond and layout.tokens[span.last + 1].clause == span.clause:
            named = []
        elif not named and (own := commands.measuring(layout, span.first, span.last)):
            named = [own]
        elif not named:
            for back in range(place - 1, -1, -1):
                if spans[back].clause < span.clause - 1 or spans[back].of("break"):
                    break
                named += (
                    []
                    if spans[back].clause != span.clause and place - back > 2
                    else _questions_of(layout, back, ("name",))
                )
        if asks or _foreign(layout, place):
            continue
        question = layout.setting.open_question or (named[0] if named else None)
        if (meant := span.of("unsure")) is not None and meant.subject in layout.setting.questions:
            question = meant.subject
        for about in dict.fromkeys((question, *named[:1])):
            if about is not None:
                unsure.append(Found(UnsureReading(about), span.first, span.last))
    return frozenset(silenced), unsure


def _foreign(layout: Layout, place: int) -> bool:
    """Whether what is not known is another thing: "can't find my phone", "not sure how to spell it"."""
    words, spans = layout.words, layout.spans
    if layout.key(spans[place].last + 1) in words.beyond:
        return False
    for span in spans[place + 1 :]:
        key = span.token.key
        if span.clause != spans[place].clause or span.of("break") or (key in words.subjects and key not in OWNING):
            return False
        little = span.of("joint") or span.of("hedge") or key in words.fillers
        if not little and (span.meanings or key not in words.vocabulary):
            named = layout.key(span.first - 1) in NAMING
            strange = not span.meanings and words.common(key)
            return named and (strange or any(m.kind in ("off-topic", "other") for m in span.meanings))
    return False


def _questions_of(layout: Layout, place: int, kinds: Iterable[str]) -> list[str]:
    span = layout.spans[place]
    found = [m.subject for kind in kinds for m in span.meanings if m.kind == kind]
    found.sort(key=lambda subject: subject != layout.setting.open_question)
    return [question for question in found if question in layout.setting.questions]


def _numbers(layout: Layout, quantities: list[Quantity], found: list[Found], doubts: list[_Doubt]) -> None:
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
    if sizes and not any(isinstance(f.reading, SizeReading | BoundReading) for f in found):
        _loose_size(layout, quantities, sizes[0], found, doubts)
    loose = [q for q in quantities if q.role == "loose"]
    if len(loose) == 1 and not found and not doubts and layout.setting.open_kind == "choice":
        first, last = layout.spans[loose[0].first].first, layout.spans[loose[0].last].last
        within = loose[0].value == int(loose[0].value) and 1 <= loose[0].value <= len(layout.setting.choices)
        if not within and (another := _fits_another(layout, loose[0], first, last)) is not None:
            doubts.append(another)


def _loose_size(
    layout: Layout, quantities: list[Quantity], question: Question, found: list[Found], doubts: list[_Doubt]
) -> None:
    """A number without unit or noun that is a size all the same: a decimal, or one with its instrument. A short message
    with a decimal that fits only in another unit ("maybe 2.3?") is asked about."""
    loose = [q for q in quantities if q.role == "loose"]
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
            doubts.append(_Doubt(Puzzle("unit", question.id, layout.quote(first, last), length.proposed), first))
            return


def _fits_another(layout: Layout, q: Quantity, first: int, last: int) -> _Doubt | None:
    """A number that the open question cannot have, asked back as the answer of another that has none yet: 2.3 while
    sprockets are counted, 12 while a maker's name is asked for."""
    setting, value = layout.setting, q.value
    clause = layout.spans[q.first].clause
    if q.ranged or sum(token.kind != "mark" for token in layout.tokens if token.clause == clause) > CURT:
        return None
    for question in setting.questions.values():
        if question.id == setting.open_question or question.id in setting.answered:
            continue
        text = layout.quote(first, last)
        if question.kind == "count" and value == int(value) and question.least <= value <= question.most:
            reading = CountReading(question.id, int(value), int(value))
            return _Doubt(Puzzle("likely", question.id, text, reading), first)
        if question.kind == "size" and q.unit is None:
            length = measured(layout, q, question)
            if length.reading is not None:
                return _Doubt(Puzzle("likely", question.id, text, length.reading), first)
            if length.proposed is not None and q.step < 1:
                return _Doubt(Puzzle("unit", question.id, text, length.proposed), first)
    return None


def _size_question(layout: Layout, sizes: list[Question]) -> Question:
    """The size question a length belongs to: the open one, else the one a noun names, else the first."""
    by_id = {q.id: q for q in sizes}
    if layout.setting.open_question in by_id:
        return by_id[layout.setting.open_question]
    named = [q for i in range(len(layout.spans)) for q in _questions_of(layout, i, ("noun", "name")) if q in by_id]
    return by_id[named[0]] if named else sizes[0]


def _denied_number(layout: Layout, q: Quantity) -> bool:
    """ "not 12", "11 not 12"."""
    if q.first - 1 in lone_noes(layout):
        return False
    before = layout.spans[q.first - 1] if q.first else None
    return bool(before and before.clause == layout.spans[q.first].clause and before.of("negation")) and not (
        before is not None and before.of("negation") and before.token.key in layout.words.minus_words
    )


def _none_of_them(layout: Layout, q: Quantity) -> bool:
    """ "Zero splines" denies them and counts nothing."""
    return q.low == q.high == 0 and q.noun is not None and layout.spans[q.noun].of("choice") is not None


def _length(
    layout: Layout, q: Quantity, question: Question, first: int, last: int, found: list[Found], doubts: list[_Doubt]
) -> None:
    length = measured(layout, q, question)
    text = layout.quote(first, last)
    if length.reading is not None:
        found.append(Found(length.reading, first, last))
        return
    is_open = layout.setting.open_question == question.id
    if not is_open and _known_elsewhere(layout, q):
        return
    curt = sum(t.kind != "mark" for t in layout.tokens) <= CURT
    if length.proposed is not None and (is_open or q.noun is not None or curt or q.unit in (1.0, 10.0)):
        doubts.append(_Doubt(Puzzle("unit", question.id, text, length.proposed), first))
    elif is_open or q.noun is not None or curt:
        doubts.append(_Doubt(Puzzle("range", question.id, text), first))


def _known_elsewhere(layout: Layout, q: Quantity) -> bool:
    """Whether this is the known size of another part: 26 inch, 135 mm."""
    for unit, lengths in layout.words.elsewhere_lengths.items():
        if layout.words.units.get(unit) == q.unit and q.value in lengths:
            return True
    return False


def _count(
    layout: Layout, q: Quantity, question: Question, first: int, last: int, found: list[Found], doubts: list[_Doubt]
) -> None:
    whole = all(math.isfinite(v) and v == int(v) for v in (q.low, q.high))
    if q.total and (not whole or q.low > question.most):
        found += _of_a_whole(layout, q, question, first, last)
        return
    text = layout.quote(first, last)
    none = layout.words.topic.zeros.get(question.id)
    if q.low == q.high == 0 and none is not None:
        whole_message = sum(t.kind != "mark" for t in layout.tokens) <= CURT
        found.append(Found(ChoiceReading(*none), first, last, sure=TENTATIVE if whole_message else 1.0))
    elif not whole or not question.least <= q.low <= q.high <= question.most:
        another = _fits_another(layout, q, first, last) if q.role == "bare" else None
        doubts.append(another or _Doubt(Puzzle("range", question.id, text), first))
    elif q.either and q.high - q.low > EITHER:
        doubts.append(_Doubt(Puzzle("conflict", question.id, text), first))
    else:
        share = q.share if q.high * q.share <= question.most else 1
        low, high = int(q.low) * share, int(q.high) * share
        if q.hedge == "least" and not q.ranged:
            high = question.most
        elif q.hedge == "most" and not q.ranged:
            low = question.least
        found.append(Found(CountReading(question.id, low, high), first, last, total=q.total))


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
        yield Found(CountReading(question.id, likely, likely), first, last, sure=TENTATIVE)


def _divisors(layout: Layout, question: Question) -> Iterator[int]:
    """By what the message says a whole is to be divided: the number of rings at the front."""
    named = layout.words.topic.divisors.get(question.id, {})
    for span in layout.spans:
        for token in layout.tokens[span.first : span.last + 1]:
            if token.key in named:
                yield named[token.key]
            elif token.number is not None and span.of("ignore") and token.number.value in named.values():
                yield int(token.number.value)


def _answer_open(
    layout: Layout, said: commands.Said | None, found: list[Found], doubts: list[_Doubt], unsure: bool
) -> None:
    """What answers the open question besides phrases and numbers with a noun: a pick, a label, a yes or no."""
    setting = layout.setting
    question = setting.questions.get(setting.open_question or "")
    if question is None:
        return
    if question.kind != "choice":
        if not found and (listed := _listed(layout, question)) is not None:
            found.append(listed)
        elif not found and (none := _none_of_it(layout, question)) is not None:
            found.append(none)
        elif not doubts and not found and _not_a_number(layout):
            doubts.append(_Doubt(Puzzle("range", question.id, layout.quote(0, len(layout.tokens) - 1)), 0))
        return
    pick = choices.picked(layout, _core(layout))
    if isinstance(pick, Found):
        found.append(pick)
        return
    another = _answers_another(layout, found)
    if said is not None and said.command in ("yes", "no") and not another:
        answer = choices.yes_or_no(layout, said.command)
        if answer is not None:
            found.append(choices.plainly(layout, answer, 0, len(layout.tokens) - 1))
        return
    if isinstance(pick, str) and not found:
        doubts.append(_Doubt(Puzzle("choice", question.id, pick), 0))
        return
    lead = None if unsure or another else leading_answer(layout)
    if lead is not None and not setting.confirming and (answer := choices.yes_or_no(layout, lead)) is not None:
        found.append(choices.plainly(layout, answer, 0, 0))
        return
    if not found and not unsure and (label := choices.labelled(layout, exact=False)) is not None:
        found.append(label)


def _listed(layout: Layout, question: Question) -> Found | None:
    """How many tooth numbers there are in "11-13-15-18-21-24"."""
    if question.id not in layout.words.topic.lists:
        return None
    lists = [(i, layout.plain.text[t.start : t.end]) for i, t in enumerate(layout.tokens) if t.kind == "junk"]
    for place, text in lists:
        teeth = [int(part) for part in _SEPARATOR.split(text) if part.isdigit()]
        rises = len(teeth) >= FEWEST_LISTED and teeth in (sorted(set(teeth)), sorted(set(teeth), reverse=True))
        if rises and len(teeth) <= question.most and all(TEETH[0] <= t <= TEETH[1] for t in teeth):
            return Found(CountReading(question.id, len(teeth), len(teeth)), place, place)
    return None


def _none_of_it(layout: Layout, question: Question) -> Found | None:
    """What "none" says to a question of how many."""
    choice = layout.words.topic.zeros.get(question.id)
    if choice is None:
        return None
    by_clause: dict[int, list[int]] = {}
    for place, token in enumerate(layout.tokens):
        by_clause.setdefault(token.clause, []).append(place)
    for places in by_clause.values():
        if " ".join(layout.key(place) for place in places) in layout.words.none:
            sure = TENTATIVE if len(by_clause) == 1 else 1.0
            return Found(ChoiceReading(*choice), places[0], places[-1], sure=sure)
    return None


def _answers_another(layout: Layout, found: list[Found]) -> bool:
    """Whether a yes or no goes with what stands behind it and answers another question: "yes, the wheel is out"."""
    words = layout.words
    others = {f.reading.question for f in found if isinstance(f.reading, ChoiceReading)} - {
        layout.setting.open_question
    }
    joined = layout.key(1) in words.number_joints or (len(layout.spans) > 1 and layout.spans[1].of("break") is not None)
    return not joined and any(question in words.yes or question in words.no for question in others)


def _core(layout: Layout) -> list[int]:
    """Tokens that count for a pick: no marks, corrections and hedges, no words that may stand beside a pick."""
    core = []
    for span in layout.spans:
        if span.of("correction") or span.of("hedge"):
            continue
        for place in range(span.first, span.last + 1):
            token = layout.tokens[place]
            if (
                token.kind == "number"
                or (token.kind != "mark" and token.key not in layout.words.picking)
                or token.key in layout.words.ordinals
            ):
                core.append(place)
    if len(core) > 1 and layout.tokens[core[-1]].number is not None and layout.key(core[-1]) == "1":
        core = core[:-1] if layout.tokens[core[-2]].key in layout.words.ordinals else core
    return core


def _not_a_number(layout: Layout) -> bool:
    core = _core(layout)
    return bool(core) and all(layout.key(t) in layout.words.not_numbers for t in core)


# --- command and tone ---------------------------------------------------------------------------------------------


def _command(
    layout: Layout, said: commands.Said | None, facts: tuple[Fact, ...], puzzles: tuple[Puzzle, ...]
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
    if other is not None:
        return other.command, other.target
    return leading_answer(layout), None


def _stands(layout: Layout, said: commands.Said, facts: tuple[Fact, ...], puzzles: tuple[Puzzle, ...]) -> bool:
    """Whether a command inside the message counts beside what else is in it."""
    if said.command == "how" and said.target is None and any(span.of("off-topic") for span in layout.spans):
        return False
    if said.command == "change" and puzzles:
        return False
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
