"""Simulated people: how they see, count, measure and answer; what they own is in `wheels.py`.

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
from triagebot.study.wheels import Wheels, drawn
from triagebot.topics import Fastening, Question, Topic

#: How people measure: share of people, means, standard deviation of one reading in mm.
MEANS = ((0.30, "calliper", 0.20), (0.50, "rule", 0.65), (0.20, "eye", 1.00))
#: Share of the standard deviation that repeats as a bias.
BIAS = 0.6

#: Up to four things are counted almost without error (Exp Brain Res doi 10.1007/s00221-010-2319-y): such people slip at
#: the ends of the circle so much less often. A judgement.
FEW, FEW_SHARE = 4, 0.15

#: Asked to look again, so many of those who looked at the wrong part find the right one.
FOUND_WHEN_TOLD = 0.5

#: An ability question ("is the wheel out now?") comes with what to do about it: so many have done it by then.
ABLE_WHEN_TOLD = 0.9


@dataclass(frozen=True, slots=True)
class Profile:
    """How a kind of people errs. Every rate is a probability; `scale` multiplies slips (not "unsure").

    `never`: how many can never answer a question, however often it is asked (no such tool at hand, cannot see it);
    `wrong_part`: how many look at a neighbour of the fitting, until they are asked to look again.
    """

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
    never: Mapping[str, float] = field(default_factory=lambda: {"lockring-tool": 0.75, "freewheel-tool": 0.85})
    wrong_part: float = 0.0
    means: tuple[tuple[float, str, float], ...] = MEANS


#: What a newcomer seldom has or sees. Nobody knows these shares: a judgement.
_NEWCOMER = Profile(
    unsure={"body": 0.3, "marking": 0.15, "torque": 0.2, "hub": 0.2, "wire-ring": 0.15},
    never={"body": 0.8, "marking": 0.45, "torque": 0.25, "lockring-tool": 0.93, "freewheel-tool": 0.96},
    wrong_part=0.02,
    means=((0.05, "calliper", 0.2), (0.60, "rule", 0.65), (0.35, "eye", 1.0)),
)
_UNSEEN = {"body": 1.0, "marking": 1.0, "torque": 1.0, "lockring-tool": 1.0, "freewheel-tool": 1.0}

PROFILES = {
    "household": Profile(),
    "careful": Profile(scale=0.5),
    "careless": Profile(scale=2.0),
    "newcomer": _NEWCOMER,
    "sees-little": Profile(never=_UNSEEN),
    "persisting": Profile(scale=2.0, repeat=0.9),
    "mixes-up-the-spin": Profile(choice={"spin": 0.3, "fitting": 0.07}),
    "wrong-part": Profile(wrong_part=0.3),
}


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
    wrong_part: Mapping[str, str | float] = field(default_factory=dict)

    def is_able(self, ability: Question, told: int) -> bool:
        """Whether the wheel is out, say, after having been told `told` times what to do."""
        ready = self.truth[ability.id] == ability.choices[0]
        return ready or any(self.rng(ability.id + "/done", n).random() < ABLE_WHEN_TOLD for n in range(told))

    def answer(self, question: Question, before: Sequence[Reading]) -> Reading:
        """What this person says when asked `question` after having answered it with `before` already."""
        rng = self.rng(question.id, len(before))
        if before and question.purpose != "ability" and rng.random() < self.profile.repeat:
            return before[-1]
        never = self.profile.never.get(question.id, 0.0)
        if never and self.rng(question.id + "/never", 0).random() < never:
            return UnsureReading(question.id)
        if question.kind == "choice":
            return self._choose(question, rng, len(before))
        if rng.random() < self.profile.number_unsure:
            return UnsureReading(question.id)
        if question.kind == "count":
            return CountReading(question.id, *(2 * (self._count(question, rng, len(before)),)))
        return self._measure(question, rng, len(before))

    def rng(self, what: str, times: int) -> np.random.Generator:
        """This person's own random numbers for one matter, new ones each time it comes up."""
        return seeded(self.seed, self.number, crc32(what.encode()), times)

    def _sees(self, question: Question, times: int) -> str | float:
        """The truth, or that of the wrong part for as long as this person looks there."""
        if question.id not in self.wrong_part:
            return self.truth[question.id]
        found = any(self.rng(question.id + "/found", n).random() < FOUND_WHEN_TOLD for n in range(times))
        return self.truth[question.id] if found else self.wrong_part[question.id]

    def _choose(self, question: Question, rng: np.random.Generator, times: int) -> Reading:
        profile = self.profile
        if rng.random() < profile.unsure.get(question.id, profile.other_unsure):
            return UnsureReading(question.id)
        true = str(self._sees(question, times))
        if question.purpose == "ability" and self.is_able(question, times + 1):
            true = question.choices[0]
        if rng.random() < profile.scale * profile.choice.get(question.id, profile.other_choice):
            true = str(rng.choice([c for c in question.choices if c != true]))
        return ChoiceReading(question.id, true)

    def _count(self, question: Question, rng: np.random.Generator, times: int) -> int:
        profile, scale, true = self.profile, self.profile.scale, int(self._sees(question, times))
        if rng.random() < scale * profile.arbitrary:
            return int(rng.integers(question.least, min(question.most, 40) + 1))
        n = true
        missed, doubled = rng.multinomial(n, [scale * profile.miss] * 2 + [1 - 2 * scale * profile.miss])[:2]
        n += int(doubled) - int(missed)
        few = FEW_SHARE if true <= FEW else 1.0
        if rng.random() < scale * profile.ends * few:
            n += 1 if rng.random() < 0.5 else -1
        return max(n, question.least)

    def _measure(self, question: Question, rng: np.random.Generator, times: int) -> Reading:
        profile, scale = self.profile, self.profile.scale
        if rng.random() < scale * profile.gross:
            return SizeReading(question.id, round(float(rng.uniform(10, 55)), 1), means=self.means)
        bias = float(self.rng(question.id + "/bias", 0).normal(0, BIAS * self.deviation))
        mm = float(self._sees(question, times)) + bias + float(rng.normal(0, sqrt(1 - BIAS**2) * self.deviation))
        if rng.random() < scale * profile.unit:
            mm = mm / float(rng.choice([10.0, 25.4]))
        return SizeReading(question.id, round(mm, 1 if mm > 5 else 2), means=self.means)


def seeded(*words: int) -> np.random.Generator:
    """`default_rng(words)`; words of 32 bits, which nearly all are, are given as such: that takes half as long."""
    if max(words) >> 32:
        return np.random.default_rng(words)
    return np.random.Generator(np.random.PCG64(np.array(words, dtype=np.uint32)))


def draw_person(
    topic: Topic,
    number: int,
    seed: int,
    profile: Profile,
    shares: Mapping[str, float] | None = None,
    wheels: Wheels | None = None,
) -> Person:
    """Draw somebody by the catalogue's priors, or by `shares` (fastening id -> weight); what is true of the wheel is
    the catalogue's, or that of `wheels`."""
    own = wheels or Wheels()
    rng = seeded(seed, number)
    fastenings = [f for f in topic.catalogue.fastenings if not f.mistaken]
    weights = np.array([f.prior if shares is None else shares.get(f.id, 0.0) for f in fastenings])
    fastening = fastenings[drawn(rng, weights / weights.sum())]
    truth = {q.id: own.true_answer(q, fastening, rng) for q in topic.flow.questions}
    if fastening.broad and own.rare:
        truth |= own.rare[int(rng.integers(len(own.rare)))].draw(rng)
    _, means, deviation = profile.means[drawn(rng, np.array([share for share, _, _ in profile.means]))]
    astray = own.wrong_part is not None and rng.random() < profile.wrong_part
    wrong_part = own.wrong_part.draw(rng) if astray and own.wrong_part is not None else {}
    return Person(number, seed, profile, fastening, truth, means, deviation, wrong_part)
