"""Readings: a person's answers as evidence, the only values that go into a belief.

A reading names the question it answers. Lengths are millimetres throughout; conversion from what people write
belongs to the conversation. Readings are small frozen values, so a case can keep, compare and replay them.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ChoiceReading:
    """One listed answer. A choice that was denied ("not splines") is a reading with `denied` set."""

    question: str
    choice: str
    denied: bool = False


@dataclass(frozen=True, slots=True)
class CountReading:
    """A whole number of things counted; `low` < `high` when the person gave a range ("11 or 12")."""

    question: str
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class SizeReading:
    """A length in mm. `half_width` (mm): half the width of a range given, rectangular; `means` names the instrument."""

    question: str
    mm: float
    half_width: float = 0.0
    means: str = "unknown"


@dataclass(frozen=True, slots=True)
class BoundReading:
    """A length known from one side only, in mm: at least `low` ("wider than this coin") or at most `high`."""

    question: str
    low: float | None = None
    high: float | None = None
    means: str = "unknown"


@dataclass(frozen=True, slots=True)
class UnsureReading:
    """The person does not know: no evidence for or against anything, but the question has been asked."""

    question: str


Reading = ChoiceReading | CountReading | SizeReading | BoundReading | UnsureReading
