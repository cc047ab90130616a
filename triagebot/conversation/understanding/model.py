"""The learned part of the reader: how likely a message says each thing, by the features that are seen in it.

A linear model: for every question, the probability of each of its answers, of not knowing, and of saying nothing of it.
`guess` says what it sees of a message, and `study.train_reader` makes it; a language without one is read by the rules
alone.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from zlib import crc32

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False, repr=False)
class Guess:
    """Weights of shape (buckets, answers), scaled to whole numbers; `answers` by column: a question and an answer."""

    weights: NDArray[np.int8]
    scale: NDArray[np.float32]
    bias: NDArray[np.float32]
    answers: tuple[tuple[str, str], ...]
    digest: str = ""

    @cached_property
    def _answers(self) -> Mapping[str, tuple[str, ...]]:
        """The answers of each question, in the order of the columns."""
        rows: dict[str, tuple[str, ...]] = {}
        for question, answer in self.answers:
            rows[question] = (*rows.get(question, ()), answer)
        return rows

    @cached_property
    def _firsts(self) -> NDArray[np.intp]:
        """The column of each question's first answer."""
        return np.cumsum([0, *map(len, self._answers.values())])[:-1]

    @cached_property
    def _question(self) -> NDArray[np.intp]:
        """Which question each column is of, counted from 0."""
        return np.repeat(np.arange(len(self._answers)), [len(answers) for answers in self._answers.values()])

    def shares(self, seen: Mapping[str, float]) -> dict[str, dict[str, float]]:
        """The probability of each answer, by question; those of one question sum to 1."""
        scores = self._scores(seen)
        powers = np.exp(scores - np.maximum.reduceat(scores, self._firsts)[self._question])
        shares = iter((powers / np.add.reduceat(powers, self._firsts)[self._question]).tolist())
        return {question: dict(zip(answers, shares)) for question, answers in self._answers.items()}  # noqa: B905

    def scores(self, seen: Mapping[str, float]) -> dict[tuple[str, str], float]:
        """How much speaks for each answer."""
        return dict(zip(self.answers, self._scores(seen).tolist(), strict=True))

    def _scores(self, seen: Mapping[str, float]) -> NDArray[np.float64]:
        rows, values = hashed(seen, len(self.weights))
        found = (values @ np.take(self.weights, rows, axis=0).astype(np.float32)) * self.scale + self.bias
        return found.astype(np.float64)

    def save(self, file: Path) -> None:
        """A line of JSON with all but the weights, then the weights row by row."""
        told = {
            "answers": self.answers,
            "scale": self.scale.tolist(),
            "bias": self.bias.tolist(),
            "digest": self.digest,
        }
        file.write_bytes(json.dumps(told).encode() + b"\n" + self.weights.tobytes())


def load_guess(file: Path) -> Guess | None:
    """The model in a file, whose weights stay on disk until they are looked at; None where there is no such file."""
    if not file.exists():
        return None
    with file.open("rb") as kept:
        told = json.loads(kept.readline())
        begin = kept.tell()
    answers = tuple((question, answer) for question, answer in told["answers"])
    weights = np.asarray(np.memmap(file, np.int8, "r", begin)).reshape(-1, len(answers))
    scale, bias = np.array(told["scale"], np.float32), np.array(told["bias"], np.float32)
    return Guess(weights, scale, bias, answers, told["digest"])


def hashed(seen: Mapping[str, float], buckets: int) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Features as buckets and values of length one together."""
    sums: dict[int, float] = {}
    told = sums.get
    for feature, value in seen.items():
        bucket = crc32(feature.encode()) % buckets
        sums[bucket] = told(bucket, 0.0) + value
    values = np.fromiter(sums.values(), np.float32, len(sums))
    length = float(np.sqrt(values @ values)) or 1.0
    return np.fromiter(sums.keys(), np.intp, len(sums)), values / np.float32(length)
