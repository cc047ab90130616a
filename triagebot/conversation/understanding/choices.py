"""Choices out of a message: by the lexicon's phrases with denial, by shown number, letter or label, by yes or no.

Rules of this file: which of these ways goes first, and what a phrase must stand beside to mean its choice.
"""

from dataclasses import dataclass

from triagebot.conversation.understanding.denials import denied_by
from triagebot.conversation.understanding.layout import SMALL, Layout
from triagebot.conversation.understanding.motion import Verdict, verdicts
from triagebot.conversation.understanding.normalise import folded
from triagebot.conversation.understanding.phrases import PhraseMeaning
from triagebot.identify.readings import ChoiceReading, CountReading, Reading, UnsureReading

#: A label typed with slips counts from this likeness on (0 to 100).
LIKE_A_LABEL = 86
#: How sure a plain yes or no is to a question that asks for one of two things.
EITHER_OR = 0.75
#: In a thought of at most this many words, none of them strange, a verb of motion is about the wheel.
LOOSE = 9
#: A phrase of several words that answers the open question allows this many unknown words beside it.
STRANGE = 1


@dataclass(frozen=True, slots=True)
class Found:
    """A reading with the tokens it came from; `plain`: a bare yes or no, which corrects nothing; `total`: a number
    of speeds, which a hub gear has too; `picked`: one of the shown choices, by its number or its very label; `sure`:
    the probability that it is meant; `named`: not knowing that names what is not known."""

    reading: Reading
    first: int
    last: int
    plain: bool = False
    total: bool = False
    picked: bool = False
    sure: float = 1.0
    named: bool = False


def from_phrases(layout: Layout, silenced: frozenset[int]) -> list[Found]:
    """Every choice that a phrase stands for. `silenced` spans are asked about or not known, and give nothing."""
    found: list[Found] = []
    weak: dict[tuple[str, int], list[Found]] = {}
    firm: dict[tuple[str, int], list[Found]] = {}
    no_news = _no_news(layout)
    for place, span in enumerate(layout.spans):
        if place in silenced or (span.clause in no_news and not (span.of("noun") and _counted(layout, span.clause))):
            continue
        denial = denied_by(layout, place)
        if denial is not None and any(s.token.number and s.token.number.value for s in layout.spans[denial:place]):
            continue  # "not 4 notches" denies the four
        for meaning in _meant(layout, place):
            question = layout.setting.questions[meaning.subject]
            if question.kind == "count":
                if denial is None and meaning.value.isdigit():
                    count = int(meaning.value)
                    found.append(Found(CountReading(question.id, count, count), span.first, span.last))
                continue
            if denial is not None and _says_no_too(layout, denial, meaning):
                denial = None
            first = span.first if denial is None else layout.spans[denial].first
            if denial is not None and len(question.choices) == 2:
                other = next(c for c in question.choices if c != meaning.value)
                found.append(Found(ChoiceReading(question.id, other), first, span.last))
            else:
                found.append(Found(ChoiceReading(question.id, meaning.value, denial is not None), first, span.last))
            if meaning.when_open or denial is None:
                (weak if meaning.when_open else firm).setdefault((question.id, span.clause), []).append(found[-1])
    # "Always coasts": what means something only because of the question gives way to what means it anyway.
    given_way = [
        f
        for key, row in weak.items()
        if key in firm
        for f in row
        if not _finer(layout, f, firm[key]) and not all(_turned_from(layout, f, other) for other in firm[key])
    ]
    return [f for f in found if not any(f is other for other in given_way)]


def _says_no_too(layout: Layout, denial: int, meaning: PhraseMeaning) -> bool:
    """Whether a "no" that begins the message answers the open question, and the phrase behind it tells the same: "no
    blank" where a stamp is asked for."""
    opened = meaning.subject == layout.setting.open_question
    answered = denial == 0 and layout.words.alone.get(layout.spans[0].token.key) == "no"
    return opened and answered and layout.words.no.get(meaning.subject) == meaning.value


def _turned_from(layout: Layout, found: Found, before: Found) -> bool:
    """Whether a "but" or the like parts it from what was said before: "I said coasts but it's fixed"."""
    between = layout.tokens[before.last + 1 : found.first]
    return any(token.key in layout.words.turning for token in between)


def _finer(layout: Layout, found: Found, firm: list[Found]) -> bool:
    """Whether it says more exactly what those beside it say: "notches ... on the rim"."""
    reading = found.reading
    if not isinstance(reading, ChoiceReading):
        return False
    general = layout.words.finer.get(reading.question, {}).get(reading.choice, ())
    return all(isinstance(f.reading, ChoiceReading) and f.reading.choice in general for f in firm)


def _meant(layout: Layout, place: int) -> list[PhraseMeaning]:
    """The choices that the span at `place` means, one of each question: of the open question alone if it means
    something because of that; nothing if the same words are said of other parts."""
    span = layout.spans[place]
    held = [m for m in span.meanings if m.kind == "choice" and m.subject in layout.setting.questions]
    held = [m for m in held if _holds(layout, place, m)]
    little = span.first < span.last and layout.key(span.last) in layout.words.fillers
    elsewhere = [m for m in held if little and m.when_open and m.subject != layout.setting.open_question]
    held = [m for m in held if m not in elsewhere]  # "3 big ones" only counts them
    opened = sorted((m for m in held if m.when_open), key=lambda m: m.subject != layout.setting.open_question)
    firm = [m for m in held if not m.when_open]
    echoed = [m for m in firm if m.bound == "echo" and m.subject != layout.setting.open_question]
    if echoed and span.token.key in layout.words.subjects:
        return echoed[:1]  # "no torque on it, it's blank"
    if opened and (span.of("ignore") or not any(m.subject == opened[0].subject for m in firm)):
        return opened[:1]
    by_question = {m.subject: m for m in reversed(firm)}
    return [] if span.of("ignore") else list(by_question.values())


def from_motion(layout: Layout, silenced: frozenset[int], unsure: list[Found]) -> list[Found]:
    """What the message says of the questions that ask whether one thing moves with another."""
    found: list[Found] = []
    no_news = _no_news(layout)
    hushed = {t for at in silenced for t in range(layout.spans[at].first, layout.spans[at].last + 1)}
    for question, row in layout.words.topic.motion.items():
        if question not in layout.setting.questions:
            continue
        unknown = [u for u in unsure if u.reading.question == question]
        for verdict in verdicts(layout, question, bool(unknown)):
            if any(u.first <= verdict.last <= u.last for u in unknown):
                continue
            if verdict.last in hushed or layout.tokens[verdict.last].clause in no_news:
                continue
            if not _spoken_of(layout, question, verdict):
                continue
            choice = row.moves if verdict.moves else row.rests
            reading = UnsureReading(question) if verdict.moves is None else ChoiceReading(question, choice)
            sure = layout.words.sureness.tentative if verdict.fitful else 1.0
            found.append(Found(reading, verdict.first, verdict.last, sure=sure))
    return found


def _spoken_of(layout: Layout, question: str, verdict: Verdict) -> bool:
    """Whether the question is meant: it is open, or the things are named, or nothing strange is spoken of at all."""
    opened = layout.setting.open_question
    if opened == question or verdict.moves is None:
        return opened == question
    if opened in layout.words.topic.motion[question].rivals:
        return verdict.part or verdict.along == "driver"
    words, clause = layout.words, layout.tokens[verdict.first].clause
    strange = any(
        t.kind in ("word", "junk") and t.key not in words.vocabulary and t.key not in words.never_mended
        for t in layout.tokens
        if t.clause == clause
    )
    if opened is not None:
        short = sum(token.kind != "mark" for token in layout.tokens if token.clause == clause) <= LOOSE
        if _in_shorthand(layout, verdict):
            return True
        return verdict.part or (verdict.firm and (verdict.by_name or (short and not strange)))
    return verdict.by_name or not strange


def _in_shorthand(layout: Layout, verdict: Verdict) -> bool:
    """Whether a whole thought is names, numbers and the verb, or the verb stands alone beside what is counted: "6 cogs
    stays 2 notches", "20 splines, stays, 7 sprockets"."""
    clause = layout.tokens[verdict.first].clause
    rest = [s for s in layout.spans if s.clause == clause and not verdict.first <= s.first <= verdict.last]
    if not rest:
        return any(s.of("noun") and layout.spans[at].token.number for at, s in enumerate(layout.spans[1:]))
    told = all(span.token.number is not None or span.of("noun") or span.of("choice") for span in rest)
    return told and sum(span.token.number is not None for span in rest) > 1


def _no_news(layout: Layout) -> frozenset[int]:
    """Clauses that ask or plan: "should it turn with the cogs?", "wheel out tomorrow"."""
    words, tokens = layout.words, layout.tokens
    planned = frozenset(token.clause for token in tokens if token.key in words.later)
    return planned | frozenset(
        token.clause
        for place, token in enumerate(tokens)
        if token.key in words.asking
        and (
            place == 0 or tokens[place - 1].clause != token.clause or words.agreeing.get(tokens[place - 1].key) in SMALL
        )
        and place + 1 < len(tokens)
        and tokens[place + 1].clause == token.clause
        and tokens[place + 1].key in words.subjects
    )


def _counted(layout: Layout, clause: int) -> bool:
    return any(token.number and token.clause == clause for token in layout.tokens)


def _holds(layout: Layout, place: int, meaning: PhraseMeaning) -> bool:
    """Whether a phrase that is too common to mean its choice by itself does so here."""
    span = layout.spans[place]
    if meaning.when_open:
        if span.first == span.last and not _led(layout, place):
            return not layout.stray.get(span.clause) and not _of_another(layout, place)
        return _strange_around(layout, place) <= STRANGE and not _of_another(layout, place)
    if meaning.bound == "loose":
        return (
            layout.key(span.first - 1) not in layout.words.conditions
            and not layout.strange.get(span.clause)
            and not _of_another(layout, place)
        )
    if meaning.bound == "beside":
        here = meaning.subject == layout.setting.open_question and _strange_around(layout, place) <= STRANGE
        return (here or _has_company(layout, place, meaning.subject)) and not _of_another(layout, place)
    if meaning.bound == "echo":
        before = [m for s in layout.spans[:place] for m in s.meanings if m.kind == "choice"]
        return meaning.subject in {layout.setting.open_question, *(m.subject for m in before)}
    return True


def _led(layout: Layout, place: int) -> bool:
    """Whether a number stands right before the span, or a denial of what may be counted: "4 gaps", "no teeth"."""
    before = layout.spans[place - 1] if place else None
    if before is None:
        return False
    denied = layout.setting.open_question in layout.words.counted and before.of("negation") is not None
    return before.token.number is not None or denied


def _strange_around(layout: Layout, place: int) -> int:
    """How many unknown words stand around the span, as far as the next "but" or the like on either side."""
    spans, known = layout.spans, layout.words.vocabulary
    strange = 0
    for step in (-1, 1):
        at = place + step
        while 0 <= at < len(spans) and spans[at].clause == spans[place].clause and not spans[at].of("break"):
            span = spans[at]
            strange += not span.meanings and span.token.kind in ("word", "junk") and span.token.key not in known
            at += step
    return strange


def _has_company(layout: Layout, place: int, subject: str) -> bool:
    """Whether what the questions beside `subject` are about is spoken of before, or right behind in the clause."""
    spans, company = layout.spans, layout.words.beside.get(subject, frozenset())
    around = spans[:place] + tuple(s for s in spans[place + 1 : place + 2] if s.clause == spans[place].clause)
    if any(m.kind in ("choice", "noun", "name") and m.subject in company for s in around for m in s.meanings):
        return True
    if layout.setting.open_question in company and _of_it_alone(layout, place):
        return True
    return layout.setting.open_question in company and any(s.token.number for s in spans[:place])


def _of_it_alone(layout: Layout, place: int) -> bool:
    """Whether the thought is of what is being asked about, which it need not name: "it looks unworn"."""
    span = layout.spans[place]
    others = [s for s in layout.spans if s.clause == span.clause and s is not span]
    return span.first < span.last and all(s.of("choice") or s.token.key in layout.words.fillers for s in others)


def _of_another(layout: Layout, place: int) -> bool:
    """Whether what stands beside the phrase is another thing: "the saddle doesn't move", "rounded off the pedal"."""
    spans = layout.spans
    for ahead in range(place + 1, min(len(spans), place + 3)):
        span = spans[ahead]
        if span.clause != spans[place].clause or span.meanings or span.token.key not in layout.words.fillers:
            if span.clause == spans[place].clause and span.of("other"):
                return True
            break
    for back in range(place - 1, -1, -1):
        span = spans[back]
        if span.clause != spans[place].clause or span.of("break") or span.token.key in layout.words.subjects:
            return False
        if span.of("other") or span.of("off-topic"):
            return True
        if span.meanings and not (span.of("negation") or span.of("hedge")):
            return False
        if not span.meanings and span.token.key not in layout.words.fillers:
            return False
    return False


def picked(layout: Layout, core: list[int]) -> Found | str | None:
    """The shown choice that the whole message names by number, ordinal or letter.

    `core` are the tokens that count: no corrections, no words that may stand beside a pick. A string is
    the person's number that no choice has.
    """
    choices = layout.setting.choices
    if not choices:
        return None
    place = _picked_place(layout, core)
    if place is None:
        lead = _leading_number(layout)
        if lead is None or not 1 <= lead <= len(choices):
            return None
        return Found(_choice(layout, lead), 0, 0, picked=True)
    index, at = place
    if not 1 <= index <= len(choices):
        return layout.quote(at, at)
    return Found(_choice(layout, index), at, at, picked=True)


def _picked_place(layout: Layout, core: list[int]) -> tuple[int, int] | None:
    words, tokens = layout.words, layout.tokens
    if len(core) == 1:
        at = core[0]
        token = tokens[at]
        if token.number is not None and token.number.value == token.number.low:
            value = token.number.value
            return (int(value) if abs(value) < 1e6 and value == int(value) else 0), at
        if token.key in words.ordinals:
            return words.ordinals[token.key], at
    letters = [t for t in tokens if t.kind == "word"]
    # "b", "option b"; but a lone letter behind other words is only a slip.
    lettered = (
        0 < len(letters) <= 3
        and len(letters) == len(tokens)
        and len(letters[-1].key) == 1
        and all(t.key in words.fillers for t in letters[:-1])
    )
    if lettered and 0 <= (index := ord(letters[-1].key) - ord("a")) < len(layout.setting.choices):
        if index == 0 and len(letters) > 2:  # "the wheel has a …" was cut off
            return None
        return index + 1, len(tokens) - 1
    return None


def _leading_number(layout: Layout) -> int | None:
    """2 in "2, and it has 12 splines"."""
    tokens = layout.tokens
    if len(tokens) < 2 or tokens[0].number is None or tokens[1].clause == tokens[0].clause or layout.spans[0].meanings:
        return None
    value = tokens[0].number.value
    return int(value) if value == int(value) and 0 < value < 100 else None


def _choice(layout: Layout, index: int) -> Reading:
    question = layout.setting.open_question or ""
    choice = layout.setting.choices[index - 1]
    return UnsureReading(question) if choice == "unsure" else ChoiceReading(question, choice)


def labelled(layout: Layout, exact: bool) -> Found | None:
    """The shown choice whose label the whole message is, exactly or with slips."""
    setting, tokens = layout.setting, layout.tokens
    if not setting.choices or not tokens or len(tokens) > 40:
        return None
    said = _label(layout.plain.text)
    labels = [_label(label) for label in setting.labels]
    index = None
    if exact:
        index = labels.index(said) if said in labels else None
    elif len(said) >= 4:
        from rapidfuzz import fuzz, process

        best = process.extract(said, labels, scorer=fuzz.ratio, score_cutoff=LIKE_A_LABEL, limit=2)
        if best and (len(best) == 1 or best[0][1] > best[1][1] + 3):
            index = best[0][2]
    return None if index is None else Found(_choice(layout, index + 1), 0, len(tokens) - 1, picked=True)


def _label(label: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in folded(label)).split())


def plainly(layout: Layout, answer: Reading, first: int, last: int) -> Found:
    """A plain yes or no; to "does it turn or stay?" it is not surely an answer."""
    sure = EITHER_OR if answer.question in layout.words.either_or else 1.0
    return Found(answer, first, last, plain=True, sure=sure)


def yes_or_no(layout: Layout, answer: str) -> Reading | None:
    """What a plain yes or no to the open question says, if it says anything."""
    question = layout.setting.open_question
    table = layout.words.yes if answer == "yes" else layout.words.no
    if question is None or question not in table or question not in layout.setting.questions:
        return None
    return ChoiceReading(question, table[question])
