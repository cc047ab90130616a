"""Simulated people: what they own, and how they see, count, measure and answer.

Rules of this file: a person knows nothing of the engine, and the engine never sees a person, a profile or the truth.
A person's answer to a question depends only on the seed, the question and how often it was asked before, so that two
engines meet the same people. The rates are the project's yardstick: an assumption, see the topic's sources.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from zlib import crc32

import numpy as np

from triagebot.errors import UsageError
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.topics import Fastening, Question, Topic, TrueSize, truth_mix

#: How people measure: share of people, means, standard deviation of one reading in mm.
MEANS = ((0.30, "calliper", 0.20), (0.50, "rule", 0.65), (0.20, "eye", 1.00))
#: Share of the standard deviation that repeats as a bias.
BIAS = 0.6

#: Up to four things are counted almost without error (Exp Brain Res doi 10.1007/s00221-010-2319-y): such people slip at
#: the ends of the circle so much less often. A judgement.
FEW, FEW_SHARE = 4, 0.15

#: An ability question ("is the wheel out now?") comes with what to do about it: so many have done it by then.
ABLE_WHEN_TOLD = 0.9


@dataclass(frozen=True, slots=True)
class Profile:
    """How a kind of people errs. Every rate is a probability; `scale` multiplies slips (not "unsure")."""

    scale: float = 1.0
    choice: Mapping[str, float] = field(default_factory=lambda: {"spin": 0.05, "fitting": 0.07})
    other_choice: float = 0.05
    unsure: Mapping[str, float] = field(default_factory=lambda: {"body": 0.15, "marking": 0.15})
    other_unsure: float = 0.08
    number_unsure: float = 0.05
    miss: float = 0.005
    ends: float = 0.04
    arbitrary: float = 0.02
    gross: float = 0.07
    unit: float = 0.02
    repeat: float = 0.30


PROFILES = {"household": Profile(), "careful": Profile(scale=0.5), "careless": Profile(scale=2.0)}


def profile_named(name: str) -> Profile:
    """The profile by name; raises UsageError naming the known ones."""
    if name not in PROFILES:
        raise UsageError(f"unknown profile {name!r}; there are: {', '.join(PROFILES)}")
    return PROFILES[name]


@dataclass(frozen=True)
class Person:
    """Somebody with a wheel. `truth`: the true answer a question (a choice, a number or a size in mm)."""

    number: int
    seed: int
    profile: Profile
    fastening: Fastening
    truth: Mapping[str, str | float]
    means: str
    deviation: float

    def is_able(self, ability: Question, told: int) -> bool:
        """Whether the wheel is out, say, after having been told `told` times what to do."""
        ready = self.truth[ability.id] == ability.choices[0]
        return ready or any(self.rng(ability.id + "/done", n).random() < ABLE_WHEN_TOLD for n in range(told))

    def answer(self, question: Question, before: Sequence[Reading]) -> Reading:
        """What this person says when asked `question` after having answered it with `before` already."""
        rng = self.rng(question.id, len(before))
        if before and question.purpose != "ability" and rng.random() < self.profile.repeat:
            return before[-1]
        if question.kind == "choice":
            return self._choose(question, rng, len(before))
        if rng.random() < self.profile.number_unsure:
            return UnsureReading(question.id)
        if question.kind == "count":
            return CountReading(question.id, *(2 * (self._count(question, rng),)))
        return self._measure(question, rng)

    def rng(self, what: str, times: int) -> np.random.Generator:
        """This person's own random numbers for one matter, new ones each time it comes up."""
        return np.random.default_rng([self.seed, self.number, crc32(what.encode()), times])

    def _choose(self, question: Question, rng: np.random.Generator, times: int) -> Reading:
        profile = self.profile
        if rng.random() < profile.unsure.get(question.id, profile.other_unsure):
            return UnsureReading(question.id)
        true = str(self.truth[question.id])
        if question.purpose == "ability" and self.is_able(question, times + 1):
            true = question.choices[0]
        if rng.random() < profile.scale * profile.choice.get(question.id, profile.other_choice):
            true = str(rng.choice([c for c in question.choices if c != true]))
        return ChoiceReading(question.id, true)

    def _count(self, question: Question, rng: np.random.Generator) -> int:
        profile, scale = self.profile, self.profile.scale
        if rng.random() < scale * profile.arbitrary:
            return int(rng.integers(question.least, min(question.most, 40) + 1))
        n = int(self.truth[question.id])
        missed, doubled = rng.multinomial(n, [scale * profile.miss] * 2 + [1 - 2 * scale * profile.miss])[:2]
        n += int(doubled) - int(missed)
        few = FEW_SHARE if self.truth[question.id] <= FEW else 1.0  # type: ignore[operator]
        if rng.random() < scale * profile.ends * few:
            n += 1 if rng.random() < 0.5 else -1
        return max(n, question.least)

    def _measure(self, question: Question, rng: np.random.Generator) -> Reading:
        profile, scale = self.profile, self.profile.scale
        if rng.random() < scale * profile.gross:
            return SizeReading(question.id, round(float(rng.uniform(10, 55)), 1), means=self.means)
        bias = float(self.rng(question.id + "/bias", 0).normal(0, BIAS * self.deviation))
        mm = float(self.truth[question.id]) + bias + float(rng.normal(0, sqrt(1 - BIAS**2) * self.deviation))
        if rng.random() < scale * profile.unit:
            mm = mm / float(rng.choice([10.0, 25.4]))
        return SizeReading(question.id, round(mm, 1 if mm > 5 else 2), means=self.means)


def draw_person(
    topic: Topic, number: int, seed: int, profile: Profile, shares: Mapping[str, float] | None = None
) -> Person:
    """Draw somebody by the catalogue's priors, or by `shares` (fastening id -> weight) for a shop with another mix."""
    rng = np.random.default_rng([seed, number])
    fastenings = topic.catalogue.fastenings
    weights = np.array([f.prior if shares is None else shares.get(f.id, 0.0) for f in fastenings])
    fastening = fastenings[int(rng.choice(len(fastenings), p=weights / weights.sum()))]
    truth = {q.id: _true_answer(q, fastening, rng) for q in topic.flow.questions}
    _, means, deviation = MEANS[int(rng.choice(len(MEANS), p=[share for share, _, _ in MEANS]))]
    return Person(number, seed, profile, fastening, truth, means, deviation)


def _true_answer(question: Question, fastening: Fastening, rng: np.random.Generator) -> str | float:
    true = fastening.answers.get(question.id)
    if isinstance(true, TrueSize):
        if true.mm is not None:
            return float(rng.normal(true.mm, true.tolerance))
        assert true.low is not None
        assert true.high is not None
        return float(rng.uniform(true.low, true.high))
    if question.kind == "size":
        return float(rng.uniform(10, 55))
    if question.kind == "count":
        labels = [str(n) for n in range(question.least, min(question.most, 40) + 1)]
    else:
        labels = list(question.choices)
    if true is None and question.prior:
        true = question.prior
    drawn = str(rng.choice(labels, p=truth_mix(true, labels)))
    return float(drawn) if question.kind == "count" else drawn
