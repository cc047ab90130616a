"""What the learned part of the reader sees of a message, and what its answers are called.

It sees the words of the message, the question that is open, and what the rules found; `model` weighs them together. It
reads no numbers: for a count or a size it only says whether there is one in the message.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from triagebot.conversation.understanding.layout import Layout
from triagebot.identify.readings import ChoiceReading, Reading, UnsureReading

#: The answers that are no choice: not known, a number, and nothing said of the question.
UNSURE, VALUE, NOTHING = "unsure", "#", "-"
#: Besides the questions: whether a message says anything of this wheel, or is a command.
ANYTHING, SOMETHING = "*", "something"
#: How much more what the rules found counts than one sequence of letters.
RULES_COUNT = 3.0
#: How the features begin that tell what the rules make of a message.
_OF_RULES = ("rules ", "command ", "strange ", "scope ")
#: Words of a message that are looked at.
MOST_WORDS = 80


def features(layout: Layout, found: Iterable[tuple[Reading, bool]], said: str | None) -> dict[str, float]:
    """What the model sees of a message; `found` are the rules' readings and whether they are about this wheel."""
    keys = [_word(layout, place) for place in range(min(len(layout.tokens), MOST_WORDS))]
    seen = _of_words(keys, layout.setting.open_question)
    for fact in _facts(layout, found, said):
        seen[fact] = RULES_COUNT
    return seen


def _of_words(keys: Sequence[str], opened: str | None) -> dict[str, float]:
    runs = dict.fromkeys(grams(keys))
    seen = dict.fromkeys(runs, 1.0)  # what is said again and again says no more
    for gram in [gram for gram in runs if gram[0] == "w" and gram.count(" ") < 2][:60]:
        seen[f"{opened}>{gram}"] = 1.0
    seen[f"open {opened}"] = 1.0
    return seen | dict.fromkeys(letters(keys), 0.7)


def of_some_words(layout: Layout, places: Iterable[int]) -> dict[str, float]:
    """What the model would see if these tokens were the message, and the rules had said nothing of it."""
    return _of_words([_word(layout, place) for place in places][:MOST_WORDS], layout.setting.open_question)


def of_words_alone(seen: Mapping[str, float]) -> dict[str, float]:
    """What the model would see if the rules had said nothing of the message."""
    return {feature: value for feature, value in seen.items() if not feature.startswith(_OF_RULES)}


def _word(layout: Layout, place: int) -> str:
    token = layout.tokens[place]
    if token.number is not None:
        return "#" if token.number.step >= 1 else "#.#"
    return token.key or token.kind


def grams(keys: Sequence[str]) -> Iterator[str]:
    """Words in runs of one to three, and pairs with a word left out between."""
    row = ["<", *keys, ">"]
    for length in (1, 2, 3):
        for start in range(len(row) - length + 1):
            yield "w" + " ".join(row[start : start + length])
    for start in range(len(keys) - 2):
        yield f"skip {keys[start]} {keys[start + 2]}"


def letters(keys: Sequence[str]) -> Iterator[str]:
    """Pieces of words, three to five letters long."""
    for key in keys:
        word = f" {key} "
        for length in (3, 4, 5):
            for start in range(len(word) - length + 1):
                yield "l" + word[start : start + length]


def _facts(layout: Layout, found: Iterable[tuple[Reading, bool]], said: str | None) -> Iterator[str]:
    opened = layout.setting.open_question
    told = False
    for reading, own in found:
        told = told or own
        yield f"rules {'say' if own else 'skip'} {reading.question} {answer_of(reading)}"
        if reading.question == opened:
            yield f"rules {'say' if own else 'skip'} the open {answer_of(reading)}"
    yield f"rules {'say something' if told else 'say nothing'}"
    if said is not None:
        yield f"command {said}"
    yield from _strangeness(layout, told)
    for scope in set(layout.scopes):
        yield f"scope {scope}"
    for meaning in {m for span in layout.spans for m in span.meanings if m.kind in ("negation", "unsure", "other")}:
        yield f"{meaning.kind}"


def _strangeness(layout: Layout, told: bool) -> Iterator[str]:
    """How much of the message is in words that none of our phrases has."""
    words = [token for token in layout.tokens if token.kind in ("word", "junk")]
    strange = sum(token.key not in layout.words.vocabulary for token in words)
    much = 0 if not words else round(4 * strange / len(words))
    for times in range(1, min(strange, 4) + 1):
        yield f"strange words {times}"
        yield f"strange words {times} {told}"
    yield f"strange share {much} {told}"
    if any(token.guessed for token in words):
        yield "mistyped"


def answer_of(reading: Reading) -> str:
    """What a reading says, as an answer of the model."""
    match reading:
        case UnsureReading():
            return UNSURE
        case ChoiceReading(_, choice, denied):
            return f"not {choice}" if denied else choice
        case _:
            return VALUE
