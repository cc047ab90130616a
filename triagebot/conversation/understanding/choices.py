"""Choices out of a message: by the lexicon's phrases with denial, by shown number, letter or label, by yes or no.

Rules of this file: how far a denial reaches, and which of these ways goes first.
"""

from dataclasses import dataclass

from triagebot.conversation.understanding.normalise import folded
from triagebot.conversation.understanding.phrases import Meaning
from triagebot.conversation.understanding.scene import Scene
from triagebot.identify.readings import ChoiceReading, CountReading, Reading, UnsureReading

#: How many words before a phrase a denial may stand: "no" close by, "not" further off.
NEAR, FAR = 2, 6
#: A label typed with slips counts from this likeness on (0 to 100).
LIKE_A_LABEL = 86
#: A phrase of several words that answers the open question allows this many unknown words beside it.
STRANGE = 1


@dataclass(frozen=True, slots=True)
class Found:
    """A reading with the tokens it came from; `plain`: a bare yes or no, which corrects nothing; `total`: a number
    of speeds, which a hub gear has too."""

    reading: Reading
    first: int
    last: int
    plain: bool = False
    total: bool = False


def from_phrases(scene: Scene, silenced: frozenset[int]) -> list[Found]:
    """Every choice that a phrase stands for. `silenced` spans are asked about or not known, and give nothing."""
    found: list[Found] = []
    weak: dict[tuple[str, int], list[Found]] = {}
    firm: dict[tuple[str, int], list[Found]] = {}
    no_news = _no_news(scene)
    for place, span in enumerate(scene.spans):
        meaning = next((m for m in span.meanings if m.kind == "choice" and _holds(scene, place, m)), None)
        question = scene.setting.questions.get(meaning.subject) if meaning else None
        if meaning is None or question is None or place in silenced or span.of("ignore"):
            continue
        if span.clause in no_news and not (span.of("noun") and _counted(scene, span.clause)):
            continue
        denial = denied_by(scene, place)
        if denial is not None and any(s.token.number for s in scene.spans[denial:place]):
            continue  # "not 4 notches" denies the four
        if question.kind == "count":
            if denial is None and meaning.value.isdigit():
                count = int(meaning.value)
                found.append(Found(CountReading(question.id, count, count), span.first, span.last))
            continue
        first = span.first if denial is None else scene.spans[denial].first
        if denial is not None and len(question.choices) == 2:
            other = next(c for c in question.choices if c != meaning.value)
            found.append(Found(ChoiceReading(question.id, other), first, span.last))
        else:
            found.append(Found(ChoiceReading(question.id, meaning.value, denial is not None), first, span.last))
        (weak if meaning.when_open else firm).setdefault((question.id, span.clause), []).append(found[-1])
    # "Always coasts": what means something only because of the question gives way to what means it anyway.
    given_way = [f for key, row in weak.items() if key in firm for f in row]
    return [f for f in found if not any(f is other for other in given_way)]


def _no_news(scene: Scene) -> frozenset[int]:
    """Clauses that ask or plan: "should it turn with the cogs?", "wheel out tomorrow"."""
    words, tokens = scene.words, scene.tokens
    planned = frozenset(token.clause for token in tokens if token.key in words.later)
    return planned | frozenset(
        token.clause
        for place, token in enumerate(tokens)
        if token.key in words.asking
        and (place == 0 or tokens[place - 1].clause != token.clause or words.alone.get(tokens[place - 1].key))
        and place + 1 < len(tokens)
        and tokens[place + 1].clause == token.clause
        and tokens[place + 1].key in words.subjects
    )


def _counted(scene: Scene, clause: int) -> bool:
    return any(token.number and token.clause == clause for token in scene.tokens)


def _holds(scene: Scene, place: int, meaning: Meaning) -> bool:
    """Whether a phrase that is too common to mean its choice by itself does so here."""
    span = scene.spans[place]
    if meaning.when_open:
        if span.first == span.last:
            return not scene.stray.get(span.clause) and not _of_another(scene, place)
        return scene.strange.get(span.clause, 0) <= STRANGE and not _of_another(scene, place)
    if meaning.bound == "loose":
        return not scene.strange.get(span.clause) and not _of_another(scene, place)
    if meaning.bound == "echo":
        before = [m for s in scene.spans[:place] for m in s.meanings if m.kind == "choice"]
        return meaning.subject in {scene.setting.open_question, *(m.subject for m in before)}
    return True


def _of_another(scene: Scene, place: int) -> bool:
    """Whether what stands beside the phrase is another thing: "the saddle doesn't move", "rounded off the pedal"."""
    spans = scene.spans
    for ahead in range(place + 1, min(len(spans), place + 3)):
        span = spans[ahead]
        if span.clause != spans[place].clause or span.meanings or span.token.key not in scene.words.fillers:
            if span.clause == spans[place].clause and span.of("other"):
                return True
            break
    for back in range(place - 1, -1, -1):
        span = spans[back]
        if span.clause != spans[place].clause or span.of("break") or span.token.key in scene.words.subjects:
            return False
        if span.of("other") or span.of("off-topic"):
            return True
        if span.meanings and not (span.of("negation") or span.of("hedge")):
            return False
        if not span.meanings and span.token.key not in scene.words.fillers:
            return False
    return False


def denied_by(scene: Scene, place: int) -> int | None:
    """The span that denies the one at `place`: "no notches", "I don't think it turns", "no splines or notches"."""
    spans = scene.spans
    target = spans[place]
    for back in range(place - 1, -1, -1):
        span = spans[back]
        if span.clause != target.clause or span.of("break") or span.of("correction"):
            return None
        distance = target.first - span.last
        negation = span.of("negation")
        if negation is not None and _begins_afresh(scene, back):
            return None
        if negation is not None:
            return back if distance <= (NEAR if negation.subject == "near" else FAR) else None
        if span.of("choice"):
            if not _joined(scene, back, place):
                return None
            target, place = span, back
    return None


def _begins_afresh(scene: Scene, place: int) -> bool:
    """Whether this "no" is an answer of its own with a statement behind it: "no the pedals always go round"."""
    words, span = scene.words, scene.spans[place]
    if words.alone.get(span.token.key) != "no" or span.first != span.last:
        return False
    return place + 1 < len(scene.spans) and scene.spans[place + 1].token.key in words.subjects


def _joined(scene: Scene, before: int, after: int) -> bool:
    """Whether two phrases belong to one list: nothing but `or`, `nor`, `any` and the like between them."""
    between = scene.spans[before + 1 : after]
    return bool(between) and len(between) <= 2 and any(s.of("joint") or s.of("negation") for s in between)


def picked(scene: Scene, core: list[int]) -> Found | str | None:
    """The shown choice that the whole message names by number, ordinal or letter.

    `core` are the tokens that count: no corrections, no words that may stand beside a pick. A string is
    the person's number that no choice has.
    """
    choices = scene.setting.choices
    if not choices:
        return None
    place = _picked_place(scene, core)
    if place is None:
        lead = _leading_number(scene)
        if lead is None or not 1 <= lead <= len(choices):
            return None
        return Found(_choice(scene, lead), 0, 0)
    index, at = place
    if not 1 <= index <= len(choices):
        return scene.quote(at, at)
    return Found(_choice(scene, index), at, at)


def _picked_place(scene: Scene, core: list[int]) -> tuple[int, int] | None:
    words, tokens = scene.words, scene.tokens
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
    if lettered and 0 <= (index := ord(letters[-1].key) - ord("a")) < len(scene.setting.choices):
        return index + 1, len(tokens) - 1
    return None


def _leading_number(scene: Scene) -> int | None:
    """2 in "2, and it has 12 splines"."""
    tokens = scene.tokens
    if len(tokens) < 2 or tokens[0].number is None or tokens[1].clause == tokens[0].clause or scene.spans[0].meanings:
        return None
    value = tokens[0].number.value
    return int(value) if value == int(value) and 0 < value < 100 else None


def _choice(scene: Scene, index: int) -> Reading:
    question = scene.setting.open_question or ""
    choice = scene.setting.choices[index - 1]
    return UnsureReading(question) if choice == "unsure" else ChoiceReading(question, choice)


def labelled(scene: Scene, exact: bool) -> Found | None:
    """The shown choice whose label the whole message is, exactly or with slips."""
    setting, tokens = scene.setting, scene.tokens
    if not setting.choices or not tokens or len(tokens) > 40:
        return None
    said = _label(scene.plain.text)
    labels = [_label(label) for label in setting.labels]
    index = None
    if exact:
        index = labels.index(said) if said in labels else None
    elif len(said) >= 4:
        from rapidfuzz import fuzz, process

        best = process.extract(said, labels, scorer=fuzz.ratio, score_cutoff=LIKE_A_LABEL, limit=2)
        if best and (len(best) == 1 or best[0][1] > best[1][1] + 3):
            index = best[0][2]
    return None if index is None else Found(_choice(scene, index + 1), 0, len(tokens) - 1)


def _label(label: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in folded(label)).split())


def yes_or_no(scene: Scene, answer: str) -> Reading | None:
    """What a plain yes or no to the open question says, if it says anything."""
    question = scene.setting.open_question
    table = scene.words.yes if answer == "yes" else scene.words.no
    if question is None or question not in table or question not in scene.setting.questions:
        return None
    return ChoiceReading(question, table[question])
