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


def _softmax(scores: dict[str, float]) -> dict[str, float]:
    top = max(scores.values())
    powers = {answer: math.exp(score - top) for answer, score in scores.items()}
    whole = sum(powers.values())
    return {answer: power / whole for answer, power in powers.items()}
