"""How likely a message says something: learned from labelled messages, weighed together with what the rules read.

A linear model: for every question, the probability of each of its answers, of not knowing, and of saying nothing of it.
It sees the words of the message, the question that is open, and what the rules found. It reads no numbers: for a count
or a size it only says whether there is one in the message. `study.train_reader` makes it; a language without one is
read by the rules alone.
"""

import json
import math
import zlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from triagebot.conversation.understanding.layout import Layout
from triagebot.identify.readings import ChoiceReading, Reading, UnsureReading

#: The answers that are no choice: not known, a number, and nothing said of the question.
UNSURE, VALUE, NOTHING = "unsure", "#", "-"
#: Besides the questions: whether a message says anything of this wheel, or is a command.
ANYTHING, SOMETHING = "*", "something"
#: How much more what the rules found counts than one sequence of letters.
RULES_COUNT = 3.0
#: Words of a message that are looked at.
MOST_WORDS = 80


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Guess:
    """Weights of shape (buckets, answers), scaled to whole numbers; `answers` by column: a question and an answer."""

    weights: NDArray[np.int8]
    scale: NDArray[np.float32]
    bias: NDArray[np.float32]
    answers: tuple[tuple[str, str], ...]
    digest: str = ""

    def shares(self, seen: Mapping[str, float]) -> dict[str, dict[str, float]]:
        """The probability of each answer, by question; those of one question sum to 1."""
        rows, values = hashed(seen, len(self.weights))
        scores = (values @ self.weights[rows].astype(np.float32)) * self.scale + self.bias
        by_question: dict[str, dict[str, float]] = {}
        for (question, answer), score in zip(self.answers, scores.tolist(), strict=True):
            by_question.setdefault(question, {})[answer] = score
        return {question: _softmax(row) for question, row in by_question.items()}

    def save(self, file: Path) -> None:
        answers = np.frombuffer(json.dumps([self.answers, self.digest]).encode(), dtype=np.uint8)
        with file.open("wb") as out:
            np.savez_compressed(out, weights=self.weights, scale=self.scale, bias=self.bias, answers=answers)


def load_guess(file: Path) -> Guess | None:
    """The model in a file; None where there is no such file."""
    if not file.exists():
        return None
    with np.load(file, allow_pickle=False) as kept:
        answers, digest = json.loads(kept["answers"].tobytes().decode())
        return Guess(kept["weights"], kept["scale"], kept["bias"], tuple((q, a) for q, a in answers), digest)


def hashed(seen: Mapping[str, float], buckets: int) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Features as buckets and values of length one together."""
    sums: dict[int, float] = {}
    for feature, value in seen.items():
        bucket = zlib.crc32(feature.encode()) % buckets
        sums[bucket] = sums.get(bucket, 0.0) + value
    values = np.fromiter(sums.values(), np.float32, len(sums))
    length = float(np.sqrt(values @ values)) or 1.0
    return np.fromiter(sums.keys(), np.intp, len(sums)), values / np.float32(length)


def features(layout: Layout, found: Iterable[tuple[Reading, bool]], said: str | None) -> dict[str, float]:
    """What the model sees of a message; `found` are the rules' readings and whether they are about this wheel."""
    keys = [_word(layout, place) for place in range(min(len(layout.tokens), MOST_WORDS))]
    opened = layout.setting.open_question
    grams = Counter(_grams(keys))
    seen = {gram: 1.0 + math.log(times) for gram, times in grams.items()}
    for gram in [gram for gram in grams if gram[0] == "w" and gram.count(" ") < 2][:60]:
        seen[f"{opened}>{gram}"] = 1.0
    seen[f"open {opened}"] = 1.0
    for letters in Counter(_letters(keys)).items():
        seen[letters[0]] = 0.7
    for fact in _facts(layout, found, said):
        seen[fact] = RULES_COUNT
    return seen


def _word(layout: Layout, place: int) -> str:
    token = layout.tokens[place]
    if token.number is not None:
        return "#" if token.number.step >= 1 else "#.#"
    return token.key or token.kind


def _grams(keys: list[str]) -> Iterator[str]:
    row = ["<", *keys, ">"]
    for length in (1, 2, 3):
        for start in range(len(row) - length + 1):
            yield "w" + " ".join(row[start : start + length])
    for start in range(len(keys) - 2):
        yield f"skip {keys[start]} {keys[start + 2]}"


def _letters(keys: list[str]) -> Iterator[str]:
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


def _softmax(scores: dict[str, float]) -> dict[str, float]:
    top = max(scores.values())
    powers = {answer: math.exp(score - top) for answer, score in scores.items()}
    whole = sum(powers.values())
    return {answer: power / whole for answer, power in powers.items()}
