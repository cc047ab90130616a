"""What kind of line the staff wrote, as far as its words tell: the learned part of how lines are read.

A linear model over the words of a line, in the order in which they stand, and over the letters of each, so that a
mistyped word still tells something. It is made by `study.train_lines` from lines that authors who knew nothing of the
program wrote (`lines/<language>.yaml`); a language without a model is read by the rules alone.

Rules of this file:
- it says of what kind a line is, and never what is done: tools, names and times are found by `heard`;
- a tool is a tool by whatever name the shop calls it, and a case a case.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from triagebot.conversation.understanding.model import Guess, load_guess
from triagebot.counter.heard import CASE
from triagebot.counter.heard_tools import TOOL, Speaking, with_tools
from triagebot.messages.codes import read_code
from triagebot.shop import fold

#: What the answers of the model are about.
KIND = "kind"
#: So many words of a line are looked at.
MOST_WORDS = 40
#: So many letters of a word are; nobody writes a longer one.
MOST_LETTERS = 40
#: What the letters of a word count, beside the word.
_LETTERS, _SKIPPED, _SENSE = 0.8, 0.7, 0.8
_TOKEN = re.compile(r"[A-Za-z0-9]{3} ?-? ?[A-Za-z0-9]{3}(?![A-Za-z0-9])|\d+(?:[:.]\d+)?|[^\W\d_]+|[?:+&/]")
_DATA = Path(__file__).parent / "lines"


@dataclass(frozen=True, slots=True)
class Kinds:
    """How likely a line is of each kind; all 0 where nothing was learned."""

    shares: Mapping[str, float]

    @property
    def best(self) -> str:
        return max(self.shares, key=lambda kind: self.shares[kind], default="")

    def share(self, *kinds: str) -> float:
        """How likely it is one of these."""
        return sum(self.shares.get(kind, 0.0) for kind in kinds)

    def likely(self, least: float) -> list[str]:
        """The kinds that are at least so likely, the likeliest first."""
        ranked = sorted(self.shares, key=lambda kind: -self.shares[kind])
        return [kind for kind in ranked if self.shares[kind] >= least]


def kinds_of_line(speaking: Speaking, text: str) -> Kinds:
    """Of what kind a line is."""
    model = _model(speaking.texts.language)
    return Kinds(model.shares(features(speaking, text))[KIND] if model is not None else {})


def model_file(language: str) -> Path:
    return _DATA / f"{language}.guess"


def lines_file(language: str) -> Path:
    """The lines that the model is made from, by kind."""
    return _DATA / f"{language}.yaml"


@lru_cache(maxsize=4)
def _model(language: str) -> Guess | None:
    return load_guess(model_file(language))


def features(speaking: Speaking, text: str) -> dict[str, float]:
    """What the model sees of a line."""
    said = [_sign(token) for token in _TOKEN.findall(text.replace("’", "").replace("'", ""))][:MOST_WORDS]
    meant = [speaking.words.said_as.get(word, word) for word in said]
    signed = [_number(word) for word in with_tools(speaking, meant)]
    row = ["<", *signed, ">"]
    seen = {f"w{' '.join(row[start : start + n])}": 1.0 for n in (1, 2, 3) for start in range(len(row) - n + 1)}
    seen |= {f"skip {first} {third}": _SKIPPED for first, third in zip(signed, signed[2:], strict=False)}
    seen |= dict.fromkeys(_letters(said), _LETTERS)
    senses = [speaking.words.senses.get(word, "") for word in signed]
    seen |= {f"sense {sense}": _SENSE for sense in senses if sense}
    seen |= {f"senses {first} {second}": _SENSE for first, second in pairwise(filter(None, senses))}
    seen |= {f"has {sign}": 1.0 for sign in (TOOL, CASE) if sign in signed}
    if "?" in text:
        seen["asks"] = 1.0
    return seen


def _sign(token: str) -> str:
    """A word in small letters, or the sign of a case for its code."""
    code = len(token) > 1 and any(letter.isdigit() for letter in token) and any(letter.isalpha() for letter in token)
    if code and read_code(token) is not None:
        return CASE
    return fold(token) if token.isalpha() else token


def _number(word: str) -> str:
    return word if not word[:1].isdigit() else "#.#" if "." in word or ":" in word else "#"


def _letters(words: list[str]) -> Iterator[str]:
    for word in words:
        if word != CASE:
            spelt = f" {word[:MOST_LETTERS]} "
            for length in (3, 4, 5):
                for start in range(len(spelt) - length + 1):
                    yield f"l{spelt[start : start + length]}"
