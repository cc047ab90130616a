"""The distinct fittings of a topic as outlines at true size, for paper and for a screen. Fastenings whose kind, count
and size are the same share an outline; a span of sizes is drawn only where it helps to find a remover."""

from dataclasses import dataclass

from triagebot.pictures import circle, number, true_outline
from triagebot.topics import Fastening, Texts, Topic, TrueSize, truth_mix

#: The questions whose answers say what a fitting looks like, and the kinds of fitting that can be held against a line.
FITTING, COUNT, SIZE = "fitting", "count", "size"
KINDS = ("splines", "notches", "outer-notches")


@dataclass(frozen=True, slots=True)
class Kind:
    """What tells one fitting from another: the kind, the least and greatest number there may be, and the least and
    greatest diameter, mm. `fastenings` have it in common."""

    kind: str
    counts: tuple[int, int]
    sizes: tuple[float, float]
    fastenings: tuple[str, ...]

    @property
    def exact(self) -> bool:
        """Whether the catalogue gives one number and one diameter."""
        return self.counts[0] == self.counts[1] and self.sizes[0] == self.sizes[1]

    @property
    def id(self) -> str:
        """`splines-12-23.4`, or `outer-notches-3-6-30-45` where numbers are open: the same in every language."""
        parts = [str(n) for n in dict.fromkeys(self.counts)] + [number(mm) for mm in dict.fromkeys(self.sizes)]
        return "-".join([self.kind, *parts])


@dataclass(frozen=True, slots=True)
class Outline:
    """An outline at true size. `svg_path_mm` is path data in mm round its middle, for lines without a filling. Its
    diameter is from `low_mm` to `high_mm`, and its number among `counts`. The text `label_text_id` takes `values()`."""

    id: str
    label_text_id: str
    svg_path_mm: str
    kind: str
    low_mm: float
    high_mm: float
    counts: tuple[int, int]
    fastenings: tuple[str, ...]

    @property
    def diameter_mm(self) -> float:
        """What a calliper would read; the middle where the catalogue leaves it open."""
        return (self.low_mm + self.high_mm) / 2

    @property
    def count(self) -> int:
        """The number; 0 where the catalogue leaves it open."""
        least, most = self.counts
        return least if least == most else 0

    def values(self) -> dict[str, float]:
        """What the label's text may show."""
        least, most = self.counts
        sizes = {"size": self.diameter_mm, "low": self.low_mm, "high": self.high_mm}
        return {"count": least, "least": least, "most": most} | sizes

    def label(self, texts: Texts) -> str:
        """What it is, in words and numbers: "12 splines, 23.4 mm"."""
        return texts(self.label_text_id, **self.values())


def kinds_of(topic: Topic) -> tuple[Kind, ...]:
    """The distinct fittings that are worth comparing with a line, by kind, number and size: the catalogue gives their
    number and size, and one of their fastenings has a remover or they have one size. A span that leads to no remover
    tells nothing that counting does not."""
    found: dict[tuple[str, tuple[int, int], tuple[float, float]], list[str]] = {}
    for fastening in (row for row in topic.catalogue.fastenings if not row.mistaken):
        kind, counts, sizes = _kind(topic, fastening), _counts(topic, fastening), _sizes(fastening)
        if kind in KINDS and counts and sizes:
            found.setdefault((kind, counts, sizes), []).append(fastening.id)
    order = sorted(found, key=lambda key: (KINDS.index(key[0]), key[1], key[2]))
    kinds = (Kind(*key, tuple(found[key])) for key in order)
    return tuple(kind for kind in kinds if _worth_comparing(topic, kind))


def screen_outlines(topic: Topic) -> tuple[Outline, ...]:
    """The outline of every fitting that is worth comparing, in the order of `kinds_of`. A page scales the paths by
    pixels a mm."""
    return tuple(_outline(topic, kind) for kind in kinds_of(topic))


def _outline(topic: Topic, kind: Kind) -> Outline:
    low, high = kind.sizes
    if kind.exact:
        path = true_outline(topic.fastenings[kind.fastenings[0]])
        label = f"gauge-outline-{kind.kind}"
    else:
        path = " ".join(circle(mm) for mm in dict.fromkeys(kind.sizes))
        label = f"gauge-range-{kind.kind}"
    return Outline(kind.id, label, path, kind.kind, low, high, kind.counts, kind.fastenings)


def _worth_comparing(topic: Topic, kind: Kind) -> bool:
    low, high = kind.sizes
    return low == high or any(topic.fastenings[name].remover is not None for name in kind.fastenings)


def _kind(topic: Topic, fastening: Fastening) -> str:
    question, truth = topic.questions.get(FITTING), fastening.answers.get(FITTING)
    if question is None or truth is None or fastening.broad:
        return ""
    labels = [str(choice) for choice in question.choices]
    return labels[int(truth_mix(truth, labels).argmax())]


def _counts(topic: Topic, fastening: Fastening) -> tuple[int, int] | None:
    truth = fastening.answers.get(COUNT)
    if truth is None or isinstance(truth, TrueSize):
        return None
    numbers = [int(label) for label, share in (truth if isinstance(truth, dict) else {truth: 1.0}).items() if share > 0]
    return (min(numbers), max(numbers)) if numbers and min(numbers) > 0 else None


def _sizes(fastening: Fastening) -> tuple[float, float] | None:
    size = fastening.answers.get(SIZE)
    if not isinstance(size, TrueSize):
        return None
    if size.mm is not None:
        return size.mm, size.mm
    return (size.low, size.high) if size.low is not None and size.high is not None else None
