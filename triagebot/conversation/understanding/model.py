"""The learned part of the reader: how likely a message says each thing, by the features that are seen in it.

A linear model: for every question, the probability of each of its answers, of not knowing, and of saying nothing of it.
`guess` says what it sees of a message, and `study.train_reader` makes it; a language without one is read by the rules
alone.
"""

import json
import math
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


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
        by_question: dict[str, dict[str, float]] = {}
        for (question, answer), score in self.scores(seen).items():
            by_question.setdefault(question, {})[answer] = score
        return {question: _softmax(row) for question, row in by_question.items()}

    def scores(self, seen: Mapping[str, float]) -> dict[tuple[str, str], float]:
        """How much speaks for each answer."""
        rows, values = hashed(seen, len(self.weights))
        scores = (values @ self.weights[rows].astype(np.float32)) * self.scale + self.bias
        return dict(zip(self.answers, scores.tolist(), strict=True))

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
    weights = np.memmap(file, np.int8, "r", begin).reshape(-1, len(answers))
    scale, bias = np.array(told["scale"], np.float32), np.array(told["bias"], np.float32)
    return Guess(weights, scale, bias, answers, told["digest"])


def hashed(seen: Mapping[str, float], buckets: int) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Features as buckets and values of length one together."""
    sums: dict[int, float] = {}
    for feature, value in seen.items():
        bucket = zlib.crc32(feature.encode()) % buckets
        sums[bucket] = sums.get(bucket, 0.0) + value
    values = np.fromiter(sums.values(), np.float32, len(sums))
    length = float(np.sqrt(values @ values)) or 1.0
    return np.fromiter(sums.keys(), np.intp, len(sums)), values / np.float32(length)


def _softmax(scores: dict[str, float]) -> dict[str, float]:
    top = max(scores.values())
    powers = {answer: math.exp(score - top) for answer, score in scores.items()}
    whole = sum(powers.values())
    return {answer: power / whole for answer, power in powers.items()}
