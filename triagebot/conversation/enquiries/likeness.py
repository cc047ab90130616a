"""How like a sentence is to what people ask.

To an example it is as like as the cosine of their weighted words and pairs of words; weights are log(N / n) for a word
or pair that n of N examples have (Spärck Jones 1972), doubled for pairs. An enquiry covers as much of it as its words
weigh, those of its patterns and those of its examples; words that nobody asks with count against every enquiry.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import log, sqrt

import numpy as np

#: As like as this a sentence must be to the likest example, and by so much more than to one of another enquiry.
ENOUGH, AHEAD = 0.62, 0.08
#: An enquiry must cover so much of a sentence, and so much more than any other, likeness to an example counted in.
COVERED, COVERED_AHEAD = 0.5, 0.08
#: What a word counts that only patterns have, what likeness to an example counts, and what a word of no enquiry does.
PATTERN, ALIKE, STRANGE = 0.8, 0.8, 0.7
#: Asked for in the words of every job.
WIDE = frozenset({"other-trouble"})
#: Two words of a sentence must weigh this much: "it is a cassette" asks for nothing.
TELLING = 1.0
#: The least weight of a word, which all enquiries may have.
LEAST = 0.05


class Examples:
    """Examples, each of one enquiry, ready to be compared with."""

    def __init__(self, rows: Sequence[tuple[str, Sequence[str]]]) -> None:
        counts = Counter(gram for _, keys in rows for gram in set(_grams(keys)))
        self.names = [name for name, _ in rows]
        self.weights = {gram: log(len(rows) / n) + 0.1 for gram, n in counts.items()}
        self.unseen = log(max(len(rows), 2)) + 0.1
        enquiries = {name for name, _ in rows}
        having = Counter(key for name, key in {(name, key) for name, keys in rows for key in keys})
        self.tells = {key: log(len(enquiries) / n) for key, n in having.items()}
        self.tells_most = log(max(len(enquiries), 2))
        holding: dict[str, list[tuple[int, float]]] = defaultdict(list)
        for place, (_, keys) in enumerate(rows):
            for gram, weight in self._unit(keys).items():
                holding[gram].append((place, weight))
        self.holding = {
            gram: (np.array([place for place, _ in held]), np.array([weight for _, weight in held]))
            for gram, held in holding.items()
        }

    def has(self, key: str) -> bool:
        """Whether an example has this word."""
        return key in self.tells

    def telling(self, key: str) -> float:
        """How much a word tells about what is asked: log(N / n) if it stands in examples of n of N enquiries. A word
        that no example has was put into a pattern for what it tells."""
        return self.tells.get(key, self.tells_most) + 0.01

    def likeness(self, keys: Sequence[str]) -> dict[str, float]:
        """How like the sentence is to the likest example of each enquiry, from 0 to 1; those of 0 are left out."""
        scores: dict[str, float] = {}
        likeness = np.zeros(len(self.names))
        for gram, weight in self._unit(keys).items():
            if (held := self.holding.get(gram)) is not None:
                places, own = held
                likeness[places] += weight * own
        for place in np.flatnonzero(likeness).tolist():
            name, score = self.names[place], float(likeness[place])
            scores[name] = max(score, scores.get(name, 0.0))
        return scores

    def _unit(self, keys: Sequence[str]) -> dict[str, float]:
        """The weights of a sentence's words and pairs, at length 1."""
        row = {gram: self.weights.get(gram, self.unseen) for gram in _grams(keys)}
        length = sqrt(sum(weight * weight for weight in row.values())) or 1.0
        return {gram: weight / length for gram, weight in row.items()}


def _grams(keys: Sequence[str]) -> Iterator[str]:
    yield from keys
    yield from (f"{one} {other}" for one, other in pairwise(keys))


def likest_of(scores: Mapping[str, float]) -> str:
    """The likest enquiry; "" where none is like enough, or two are about as like."""
    ranked = sorted(scores.items(), key=lambda row: (-row[1], row[0]))
    if not ranked or ranked[0][1] < ENOUGH or (len(ranked) > 1 and ranked[0][1] - ranked[1][1] < AHEAD):
        return ""
    return ranked[0][0]


class Vocabulary:
    """The words with which each thing is asked for: those of its examples, and all of its patterns. What is asked for
    in words of all kinds ("another job") is never found by them."""

    def __init__(self, examples: Mapping[str, frozenset[str]], patterns: Mapping[str, frozenset[str]]) -> None:
        self.examples, self.patterns = examples, patterns
        names = {*examples, *patterns}
        self.having = Counter(
            word for name in names for word in examples.get(name, frozenset()) | patterns.get(name, frozenset())
        )
        self.names = sorted(names - WIDE)

    def best(self, keys: Sequence[str], like: Mapping[str, float]) -> tuple[str, float]:
        """The enquiry that covers a sentence best, and how well; "" where none does, or two do about as well."""
        if sum(self._weight(key) >= TELLING for key in keys) < 2 or len(self.names) < 2:
            return "", 0.0
        weights = {key: self._weight(key) for key in keys}
        total = sum(weights.values())
        scores = sorted(
            (self._covers(name, weights) / total + ALIKE * like.get(name, 0.0), name) for name in self.names
        )
        (second, _), (first, name) = scores[-2:]
        enough = first >= COVERED and first - second >= COVERED_AHEAD
        return (name, first) if enough else ("", 0.0)

    def _weight(self, key: str) -> float:
        having = self.having.get(key)
        return log(len(self.names)) * STRANGE if having is None else log(len(self.names) / having) + LEAST

    def _covers(self, name: str, weights: Mapping[str, float]) -> float:
        examples, patterns = self.examples.get(name, frozenset()), self.patterns.get(name, frozenset())
        return sum(
            weight * (1.0 if key in examples else PATTERN)
            for key, weight in weights.items()
            if key in examples or key in patterns
        )
