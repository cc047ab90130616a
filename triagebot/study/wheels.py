"""The people's own wheels (`people.yaml` of a topic): what simulated people own, apart from the planner's figures.

Where a topic has no such file, people own what its catalogue says.
"""

from collections.abc import Mapping
from typing import Annotated

import numpy as np
from pydantic import Field

from triagebot.errors import UsageError
from triagebot.identify.information import Array
from triagebot.topics import Fastening, Question, Topic, TrueSize, truth_mix, validated_with_marks
from triagebot.topics.schema import Id, Row, Truth

#: The file in a topic's folder.
FILE = "people.yaml"
#: The mix of people who come to a shop in a city.
USUAL = "city"

Weight = Annotated[float, Field(ge=0)]


class Odd(Row):
    """Fittings that no row of the catalogue lists: any of `counts` goes with any of `sizes` (mm)."""

    spin: Id
    fitting: Id
    counts: Annotated[tuple[int, ...], Field(min_length=1)]
    sizes: Annotated[tuple[float, ...], Field(min_length=1)]

    def draw(self, rng: np.random.Generator) -> dict[str, str | float]:
        """One of them, as true answers a question."""
        count, size = float(rng.choice(self.counts)), float(rng.choice(self.sizes) + rng.normal(0, 0.3))
        return {"spin": self.spin, "fitting": self.fitting, "count": count, "size": size}


class Wheels(Row):
    """What people own: `mixes` by name (weights by fastening), what is true where it differs from the catalogue, the
    `rare` fittings of those who are drawn as unlisted, and the `wrong_part` that some look at in place of the fitting.
    """

    mixes: dict[Id, dict[Id, Weight]] = Field(default_factory=dict)
    wheels: dict[Id, dict[Id, Truth]] = Field(default_factory=dict)
    rare: tuple[Odd, ...] = ()
    wrong_part: Odd | None = None

    def true_answer(self, question: Question, fastening: Fastening, rng: np.random.Generator) -> str | float:
        """One true answer of a wheel with this fastening, drawn."""
        true = self.wheels.get(fastening.id, {}).get(question.id, fastening.answers.get(question.id))
        if isinstance(true, TrueSize):
            if true.mm is not None:
                return float(rng.normal(true.mm, true.tolerance))
            return float(rng.uniform(*true.span))
        if question.kind == "size":
            return float(rng.uniform(10, 55))
        if question.kind == "count":
            labels = [str(n) for n in range(question.least, min(question.most, 40) + 1)]
        else:
            labels = list(question.choices)
        label = labels[drawn(rng, truth_mix(true or question.prior or None, labels))]
        return float(label) if question.kind == "count" else label


def drawn(rng: np.random.Generator, shares: Array) -> int:
    """Which of these shares is drawn: `rng.choice(len(shares), p=shares)`, without its looking at each for faults."""
    below = shares.cumsum()
    return int((below / below[-1]).searchsorted(rng.random(), side="right"))


def load_wheels(topic: Topic) -> Wheels:
    """The topic's people; those of its catalogue where it has no file. Raises DataError with every fault of shape."""
    path = topic.folder / FILE
    if not path.exists():
        return Wheels()
    wheels, _ = validated_with_marks(Wheels, path)
    return wheels


def mix_of(topic: Topic, wheels: Wheels, text: str) -> Mapping[str, float] | None:
    """How common each fastening is among the people. `text` is the name of a mix, the usual one where it is empty, or
    "freewheel-2-notch=10,unlisted=2": so many times as common as the usual mix has them. None: as the catalogue has it.

    Raises UsageError for anything else.
    """
    usual = wheels.mixes.get(USUAL)
    if not text:
        return usual
    if text in wheels.mixes:
        return wheels.mixes[text]
    priors = {f.id: f.prior for f in topic.catalogue.fastenings}
    mix = priors if usual is None else {**dict.fromkeys(topic.fastenings, 0.0), **usual}
    for part in filter(None, (part.strip() for part in text.split(","))):
        name, _, times = part.partition("=")
        try:
            factor = float(times)
        except ValueError:
            factor = -1.0
        if name not in mix or not 0 <= factor < float("inf"):
            named = f", or the name of a mix: {', '.join(wheels.mixes)}" if wheels.mixes else ""
            wanted = f"fastenings and how many times as common, as in unlisted=2{named}"
            raise UsageError(f"--mix takes {wanted}, not {part!r}")
        mix[name] *= factor
    if sum(mix.values()) <= 0:
        raise UsageError("--mix leaves nobody")
    return mix
