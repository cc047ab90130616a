"""Proofs about what the questions can tell: every fastening can be named, and none is mistaken for one that needs
another remover without the topic saying so.

A choice or count tells two fastenings apart when at most `OVERLAP` of the true answers agree; a size does from
`SIZE_GAP` mm on, since a rule cannot tell less (at 1 mm of standard deviation a reading is on the wrong side of the
midpoint between two sizes 2 mm apart in 16 of 100 cases).
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, product

import numpy as np

from triagebot.errors import Problem
from triagebot.identify import (
    ChoiceReading,
    CountReading,
    Decision,
    Model,
    Reading,
    Remedy,
    SizeReading,
    belief,
    decide,
)
from triagebot.topics.compile import remedy_of
from triagebot.topics.marks import Files
from triagebot.topics.schema import Fastening, Question
from triagebot.topics.topic import Topic

FILE = "catalogue.yaml"

OVERLAP = 0.2
SIZE_GAP = 2.0

#: From readings to a decision: the engine's own, unless a check is given another.
Judge = Callable[[Model, Sequence[Reading]], Decision]


def judge(model: Model, readings: Sequence[Reading]) -> Decision:
    """What the engine decides on these readings."""
    return decide(model, belief(model, readings))


def identification_faults(topic: Topic, files: Files, judged: Judge = judge) -> list[Problem]:
    """Fastenings that truthful answers do not lead to, pairs that nothing tells apart, false look-alikes."""
    return [*_unnamed(topic, files, judged), *_confused(topic, files), *_look_alike_faults(topic, files)]


# --- every fastening is named by some truthful answers ----------------------------------------------------------------


def _unnamed(topic: Topic, files: Files, judged: Judge) -> list[Problem]:
    message = "no truthful answers lead to this fastening's remover"
    return [files.problem(FILE, ("fastenings", place, "id"), message) for place in unnamed(topic, judged)]


def unnamed(topic: Topic, judged: Judge = judge) -> list[int]:
    """The fastenings, by their places in the catalogue, whose remover no truthful answers lead to."""
    model = topic.model
    return [
        place
        for place, row in enumerate(topic.catalogue.fastenings)
        if not row.broad
        and not any(_named_first(model, judged(model, path)) == remedy_of(row) for path in truthful_paths(topic, row))
    ]


def _named_first(model: Model, decision: Decision) -> Remedy:
    """The likeliest remedy of an answer or of a pair of look-alikes; none where a person must look."""
    return model.remedies[decision.remedies[0]] if decision.remedies else Remedy(None)


def truthful_paths(topic: Topic, row: Fastening) -> Iterator[list[Reading]]:
    """Sets of true answers to every question that says something about a fastening: its usual answers, then the ones
    that set it apart most, each with the middle, the least and the greatest size it can have."""
    means = min(topic.flow.noise.means, key=lambda way: way.sd).id
    asked = [topic.questions[name] for name in row.answers]
    for telling, where in product((False, True), (0.5, 0.0, 1.0)):
        yield [_true_reading(topic, question, row, telling, where, means) for question in asked]


def _true_reading(topic: Topic, question: Question, row: Fastening, telling: bool, where: float, means: str) -> Reading:
    if (size := row.size(question.id)) is not None:
        low, high = size.span
        return SizeReading(question.id, low + where * (high - low), means=means)
    mix = row.listed(question.id)
    others = [other.listed(question.id) for other in topic.catalogue.fastenings if other is not row]

    def worth(label: str) -> float:
        return mix[label] / (0.01 + float(np.mean([o.get(label, 0.0) for o in others]))) if telling else mix[label]

    label = max((label for label in mix if mix[label] > 0), key=worth)
    if question.kind == "count":
        return CountReading(question.id, int(label), int(label))
    return ChoiceReading(question.id, label)


# --- no two that need different removers look alike unsaid ------------------------------------------------------------


def _confused(topic: Topic, files: Files) -> list[Problem]:
    declared = {frozenset(pair.fastenings) for pair in topic.catalogue.look_alikes}
    everybody = [q for q in topic.flow.questions if q.purpose == "identify" and not (q.shop_words or q.needs_tool)]
    rows = [(place, row) for place, row in enumerate(topic.catalogue.fastenings) if not row.broad]
    found = []
    for (_, first), (place, second) in combinations(rows, 2):
        if remedy_of(first) == remedy_of(second) or frozenset((first.id, second.id)) in declared:
            continue
        if not any(tells_apart(question, first, second) for question in everybody):
            message = (
                f"no question tells it from {first.id!r}, which needs another remover: add one, or declare them "
                "look-alikes with the check that separates them"
            )
            found.append(files.problem(FILE, ("fastenings", place, "id"), message))
    return found


def _look_alike_faults(topic: Topic, files: Files) -> list[Problem]:
    found = []
    seen: set[frozenset[str]] = set()
    for place, pair in enumerate(topic.catalogue.look_alikes):
        path = ("look-alikes", place)
        first, second = (topic.fastenings[name] for name in pair.fastenings)
        if remedy_of(first) == remedy_of(second):
            found.append(files.problem(FILE, (*path, "fastenings"), "both need the same remover: not look-alikes"))
        elif frozenset(pair.fastenings) in seen:
            found.append(files.problem(FILE, (*path, "fastenings"), "this pair is declared twice"))
        elif not tells_apart(topic.questions[pair.check], first, second):
            message = f"the check {pair.check!r} does not tell {first.id!r} from {second.id!r}"
            found.append(files.problem(FILE, (*path, "check"), message))
        seen.add(frozenset(pair.fastenings))
    return found


def tells_apart(question: Question, first: Fastening, second: Fastening) -> bool:
    """Whether the true answers to a question nearly always differ between two fastenings."""
    one, other = first.size(question.id), second.size(question.id)
    if one is not None and other is not None:
        (low, high), (least, most) = one.span, other.span
        return max(least - high, low - most) >= SIZE_GAP - 1e-9
    here, there = first.listed(question.id), second.listed(question.id)
    return bool(here and there) and sum(min(share, there.get(label, 0.0)) for label, share in here.items()) <= OVERLAP
