"""Everything that the rules find in a message: choices, numbers, not knowing, and what answers the open question.

Rules of this file: what of the message is looked at before what; an answer to the open question is looked for last.
"""

import re
from dataclasses import replace

from triagebot.conversation.understanding import choices, commands
from triagebot.conversation.understanding.choices import Found
from triagebot.conversation.understanding.counts_and_sizes import EITHER, Doubt, count_and_size, questions_of
from triagebot.conversation.understanding.gauges import Compared, compared
from triagebot.conversation.understanding.layout import Layout, Span
from triagebot.conversation.understanding.quantities import quantities
from triagebot.conversation.understanding.settling import (
    leading_answer,
    without_counts_of_others,
    without_outranked,
)
from triagebot.conversation.understanding.specific import uncovered, unsure_of_open, without_single
from triagebot.conversation.understanding.words import AFTER_ALL, FOR_NOW
from triagebot.conversation.understood import Puzzle
from triagebot.identify.readings import ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.topics.schema import Question

#: A list of at least so many numbers, each within these, is of sprockets by their teeth.
FEWEST_LISTED, TEETH = 4, (9, 60)
_SEPARATOR = re.compile(r"\s*[-/,.]\s*")
#: Behind these a thing is named, and no new statement begins; behind some of them it may be a foreign one.
OWNING = frozenset({"the", "my", "this", "that", "these", "those"})
NAMING = frozenset({"the", "my", "your", "our", "his", "her", "to"})


def phrase_for_open(layout: Layout) -> bool:
    """Whether the message is one phrase of several words for the open question: "like new" begins nothing anew."""
    said = [span for span in layout.spans if span.meanings]
    if len(said) != 1 or said[0].first == said[0].last:
        return False
    meaning = said[0].of("choice")
    return meaning is not None and meaning.subject == layout.setting.open_question


def find(layout: Layout, said: commands.Said | None) -> tuple[list[Found], list[Doubt], tuple[str, ...]]:
    setting = layout.setting
    silenced, unsure = _unsure(layout)
    mentions = tuple(
        dict.fromkeys(
            m.subject
            for span in layout.spans
            if not span.token.guessed
            for m in span.meanings
            if m.kind == "mention" and m.subject in setting.questions
        )
    )
    exact = choices.labelled(layout, exact=True)
    if exact is not None:
        return [exact], [], mentions
    found = choices.from_phrases(layout, silenced)
    opened = [f for f in found if f.reading.question == setting.open_question]
    moved = choices.from_motion(layout, silenced, unsure)
    moved = [m for m in moved if not any(m.reading.question != f.reading.question and _overlap(m, f) for f in opened)]
    read = {m.reading.question for m in moved}
    read |= {u.reading.question for u in unsure if u.reading.question in layout.words.motion}
    found = [f for f in found if f.reading.question not in read] + moved
    doubts: list[Doubt] = []
    used: set[int] = set()
    for question in setting.questions.values():
        if question.kind == "size":
            for comparison in compared(layout, question):
                found.append(_from_comparison(layout, comparison))
                used |= comparison.spans
            break
    count_and_size(layout, quantities(layout, frozenset(used)), found, doubts)
    found = without_outranked(layout, without_counts_of_others(layout, found))
    found = without_single(layout, uncovered(layout, found))
    unsure = unsure_of_open(layout, unsure)
    unsure = [u for u in unsure if not any(_narrowed_down(layout, f, u) or _of_that(layout, f, u) for f in found)]
    unknown = {u.reading.question for u in unsure}
    found = [f for f in found if not (f.reading.question in unknown and _is_open_ended(layout, f.reading))]
    given_up = {u.reading.question: u.first for u in unsure if _after_all(layout, u)}
    found = [f for f in found if f.first > given_up.get(f.reading.question, -1)]
    answered = {f.reading.question for f in found if layout.scopes[f.first] not in ("question", "about")}
    if setting.open_question not in answered:
        _answer_open(layout, said, found, doubts, bool(unsure))
    found += [u for u in unsure if u.reading.question not in {f.reading.question for f in found}]
    return found, doubts, mentions


def _overlap(one: Found, other: Found) -> bool:
    return one.first <= other.last and other.first <= one.last


def _is_open_ended(layout: Layout, reading: Reading) -> bool:
    """Whether a count is only a bound, which is no news beside "I don't know": "can't count them, more than ten"."""
    if not isinstance(reading, CountReading) or reading.high - reading.low <= EITHER:
        return False
    question = layout.setting.questions[reading.question]
    return reading.low == question.least or reading.high == question.most


def _narrowed_down(layout: Layout, found: Found, unsure: Found) -> bool:
    """Whether what is not known was told as nearly as it can be before: "more than 5, they are hard to count", "23 or
    24, not sure which"."""
    reading = found.reading
    if not isinstance(reading, CountReading) or reading.question != unsure.reading.question:
        return False
    parted = layout.tokens[found.last].clause < layout.tokens[unsure.first].clause or not _is_open_ended(
        layout, reading
    )
    return reading.low < reading.high and found.last < unsure.first and parted


def _of_that(layout: Layout, found: Found, unsure: Found) -> bool:
    """Whether it is the number right before it that is not sure, and not what is being asked: "12 splines or 13, not
    sure"."""
    reading, tokens = found.reading, layout.tokens
    another = isinstance(reading, CountReading | SizeReading) and reading.question != unsure.reading.question
    little = layout.words.fillers - layout.words.turning
    near = {span.first for span in layout.spans if span.of("hedge") or layout.key(span.first) in little}
    another &= any(s.first == unsure.first and (m := s.of("unsure")) and not m.subject for s in layout.spans)
    ends = unsure.last + 1 == len(tokens) or layout.key(unsure.last + 1) == "which"
    ends &= "." not in layout.plain.text[tokens[found.last].end : tokens[unsure.first].start]
    return another and not unsure.named and ends and all(at in near for at in range(found.last + 1, unsure.first))


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
    foreign = commands.of_other_trades(layout)
    behind: list[tuple[str, ...]] = []
    names: dict[int, list[str]] = {}
    for place, span in enumerate(spans):
        asks = (m := span.of("command")) is not None and m.subject in ("how", "why")
        if not asks and (not span.of("unsure") or _tries_on(layout, span)):
            continue
        behind = behind or _named_from(layout)
        ahead = place + 1
        named = list(behind[ahead]) if ahead < len(spans) and spans[ahead].clause == span.clause else []
        while ahead < len(spans) and ahead not in silenced and not _parts(layout, ahead, span.clause):
            silenced.add(ahead)
            ahead += 1
        told = {*named, _named_at_once(layout, place)}
        if layout.key(span.last + 1) in layout.words.beyond and layout.tokens[span.last + 1].clause == span.clause:
            named = []
        elif not named and (own := commands.measuring(layout, span.first, span.last)):
            named = [own]
        elif not named:
            named = _named_before(layout, place, names)
        if asks or foreign or _foreign(layout, place):
            continue
        question = layout.setting.open_question or (named[0] if named else None)
        if (meant := span.of("unsure")) is not None and meant.subject in layout.setting.questions:
            question, named = meant.subject, []
        elif other := _named_at_once(layout, place):
            question, named = other, []
        for about in dict.fromkeys((question, *named[:1])):
            if about is not None:
                unsure.append(Found(UnsureReading(about), span.first, span.last, named=about in told))
    return frozenset(silenced), unsure


def _named_before(layout: Layout, place: int, names: dict[int, list[str]]) -> list[str]:
    """The questions named last before the span in its clause, or right before it; `names` keeps what was looked up."""
    spans, clause = layout.spans, layout.spans[place].clause
    for back in range(place - 1, -1, -1):
        near = spans[back].clause == clause or (spans[back].clause == clause - 1 and place - back <= 2)
        if not near or spans[back].of("break"):
            break
        if back not in names:
            names[back] = questions_of(layout, back, ("name",))
        if names[back]:
            return names[back]
    return []


def _parts(layout: Layout, place: int, clause: int) -> bool:
    """Whether another thought than that of `clause` begins at the span."""
    span = layout.spans[place]
    return span.clause != clause or (span.of("break") is not None and layout.key(span.first) != "if")


def _named_from(layout: Layout) -> list[tuple[str, ...]]:
    """The questions named from each span to the end of its thought, each once, in their order."""
    named: list[tuple[str, ...]] = [()] * (len(layout.spans) + 1)
    clause = -1
    for place in range(len(layout.spans) - 1, -1, -1):
        rest = named[place + 1] if layout.spans[place].clause == clause else ()
        clause = layout.spans[place].clause
        if not _parts(layout, place, clause):
            named[place] = tuple(dict.fromkeys((*questions_of(layout, place, ("name", "choice", "noun")), *rest)))
    return named


def _tries_on(layout: Layout, span: Span) -> bool:
    """Whether somebody who does not know for now says that they go on trying: "lost count, let me start again"."""
    behind = span.last + 1
    if f"{layout.key(behind)} {layout.key(behind + 1)}" in layout.words.turning and layout.scopes[behind] == "plan":
        return True  # "not sure, let me look"
    for_now = any(m.kind == "unsure" and m.value == FOR_NOW for m in span.meanings)
    return for_now and not {"plan", "chat"}.isdisjoint(layout.scopes)


def _named_at_once(layout: Layout, place: int) -> str | None:
    """The number that alone is not known, where nothing but little words stands before its name: "no idea how many
    splines"."""
    for ahead in range(place + 1, len(layout.spans)):
        span = layout.spans[ahead]
        key = span.token.key
        if span.clause != layout.spans[place].clause or span.of("break") or key in layout.words.beyond:
            return None
        if span.meanings or key not in layout.words.fillers:
            named = questions_of(layout, ahead, ("name",))
            return named[0] if named and layout.setting.questions[named[0]].kind != "choice" else None
    return None


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


def _answer_open(
    layout: Layout, said: commands.Said | None, found: list[Found], doubts: list[Doubt], unsure: bool
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
            doubts.append(Doubt(Puzzle("range", question.id, layout.quote(0, len(layout.tokens) - 1)), 0))
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
    rough = any(span.of("hedge") for span in layout.spans) and bool(doubts)  # "about 22" is no choice
    if isinstance(pick, str) and not found and not rough:
        doubts.append(Doubt(Puzzle("choice", question.id, pick), 0))
        return
    lead = None if another else leading_answer(layout)
    if lead == "yes" and unsure and (likely := choices.yes_or_no(layout, lead)) is not None:
        found.append(replace(choices.plainly(layout, likely, 0, 0), sure=layout.words.sureness.tentative))
        return  # "prob yeah, haven't ridden it in ages"
    if unsure:
        return
    if lead is not None and not setting.confirming and (answer := choices.yes_or_no(layout, lead)) is not None:
        found.append(choices.plainly(layout, answer, 0, 0))
        return
    if not found and (label := choices.labelled(layout, exact=False)) is not None:
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
            sure = layout.words.sureness.tentative if len(by_clause) == 1 else 1.0
            return Found(ChoiceReading(*choice), places[0], places[-1], sure=sure)
    return None


def _answers_another(layout: Layout, found: list[Found]) -> bool:
    """Whether a yes or no goes with what stands behind it and answers another question: "yes, the wheel is out"."""
    words = layout.words
    others = {f.reading.question for f in found if isinstance(f.reading, ChoiceReading)} - {
        layout.setting.open_question
    }
    joined = layout.key(1) in words.number_joints or (len(layout.spans) > 1 and layout.spans[1].of("break") is not None)
    if len(layout.tokens) > 1:  # "no. it turns with the cogs though"
        joined |= "." in layout.plain.text[layout.tokens[0].end : layout.tokens[1].start]
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
