"""What a topic knows of fittings that lines from the bench are read by: how many there are of what, and how wide."""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from triagebot.counter.shorthand import Known
from triagebot.topics import Topic, TrueSize

#: A bare number within so many mm of a width that the topic knows can be one.
NEAR = 3.0


@lru_cache(maxsize=64)  # a branch each
def widths(topic: Topic) -> tuple[float, float]:
    """The smallest and the largest width, mm, of what the topic knows to be a fitting."""
    fittings = [row for row in topic.catalogue.fastenings if not row.mistaken]
    truths = [each for row in fittings for each in row.answers.values() if isinstance(each, TrueSize)]
    ends = [end for each in truths for end in (each.mm, each.low, each.high) if end is not None]
    return (min(ends), max(ends)) if ends else (0.0, 0.0)


@lru_cache(maxsize=64)  # a branch each
def known_of(topic: Topic) -> Known:
    """What shorthand need know of a topic."""
    asked = [q.id for q in topic.flow.questions if q.kind == "count" and q.id in topic.flow.outcomes.sights]
    truths = (row.answers.get(question) for row in topic.catalogue.fastenings if row.remover for question in asked)
    each = [number for truth in truths for number in (truth if isinstance(truth, Mapping) else (truth,))]
    low, high = widths(topic)
    every = [n for row in topic.catalogue.fastenings for question in asked for n in _numbers(row.answers.get(question))]
    counts = frozenset(int(str(n)) for n in each if str(n).isdecimal())
    return Known(counts, _kinds_alone(topic, asked), frozenset(every), (low - NEAR, high + NEAR))


def _numbers(truth: object) -> list[int]:
    """The counts that a fastening has."""
    return [int(str(n)) for n in (truth if isinstance(truth, Mapping) else (truth,)) if str(n).isdecimal()]


def _kinds_alone(topic: Topic, asked: Sequence[str]) -> dict[int, str]:
    """Each count that all fittings which have it are of one kind, where one of them has a remover, with that kind."""
    kinds: dict[int, set[str]] = {}
    removed: set[int] = set()
    sights = [sight for sight in topic.flow.outcomes.sights if sight not in asked]
    for row in topic.catalogue.fastenings:
        choices = {str(kind) for sight in sights for kind in _named(row.answers.get(sight))}
        for number in (n for question in asked for n in _numbers(row.answers.get(question))):
            kinds.setdefault(number, set()).update(choices)
            removed |= {number} if row.remover else set()
    return {number: each.pop() for number, each in kinds.items() if len(each) == 1 and number in removed}


def _named(truth: object) -> list[str]:
    """The choices that are true of a fastening."""
    return [str(each) for each in truth] if isinstance(truth, Mapping) else [truth] if isinstance(truth, str) else []
