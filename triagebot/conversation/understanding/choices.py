"""Choices out of a message: by the lexicon's phrases with denial, by shown number, letter or label, by yes or no.

Decided here and nowhere else: how far a denial reaches, and which of these ways goes first.
"""

from dataclasses import dataclass

from triagebot.conversation.understanding.normalise import folded
from triagebot.conversation.understanding.scene import Scene
from triagebot.identify.readings import ChoiceReading, CountReading, Reading, UnsureReading

#: How many words before a phrase a denial may stand: "no" close by, "not" further off.
NEAR, FAR = 2, 6
#: A label typed with slips counts from this likeness on (0 to 100).
LIKE_A_LABEL = 86


@dataclass(frozen=True, slots=True)
class Found:
    """A reading with the tokens it came from; `plain`: a bare yes or no, which corrects nothing."""

    reading: Reading
    first: int
    last: int
    plain: bool = False


def from_phrases(scene: Scene, silenced: frozenset[int]) -> list[Found]:
    """Every choice that a phrase stands for. `silenced` spans are asked about or not known, and give nothing."""
    found = []
    for place, span in enumerate(scene.spans):
        meaning = span.of("choice")
        question = scene.setting.questions.get(meaning.subject) if meaning else None
        if meaning is None or question is None or place in silenced:
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
    return found


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
        if negation is not None:
            return back if distance <= (NEAR if negation.subject == "near" else FAR) else None
        if span.of("choice"):
            if not _joined(scene, back, place):
                return None
            target, place = span, back
    return None


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
