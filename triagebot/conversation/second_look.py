"""What was told that does not fit what would be named. No wording.

Rules of this file: counts of the fitting that do not fit must be outnumbered by counts that do, or be as many where a
size fits; else no remover is named. What does not fit is said with the reasons.
"""

from collections.abc import Sequence

from triagebot.identify import (
    BoundReading,
    CountReading,
    Decision,
    ListTable,
    Model,
    Reading,
    SizeReading,
    UnsureReading,
)
from triagebot.topics import Topic

#: A count that comes out so much less often than the usual one does not fit a fastening: four off of twelve, say, or
#: two of four.
_FITS = 0.002
#: The least density (1/mm) of a size that fits; a gross error, which may be anything, has about a sixth of it.
_SIZE_FITS = 0.01
#: A choice that is true of such a fastening no more often than this does not fit it.
_CHOICE_FITS = 0.04


def contradicted(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> tuple[str, ...]:
    """Questions about the fitting whose numbers speak against what the decision names, the best to ask first: counts
    that do not fit outnumber those that do, or are as many and no size fits. Empty where none do."""
    model, sights = topic.model, topic.flow.outcomes.sights
    for question in dict.fromkeys(r.question for r in readings if isinstance(r, CountReading)):
        if question not in sights or not decision.remedies:
            continue
        counts = [r for r in readings if isinstance(r, CountReading) and r.question == question]
        against = [
            r for r in counts if not any(_fits(model, _of_remedy(model, place), r) for place in decision.remedies)
        ]
        if not against or len(against) < len(counts) / 2:
            continue
        sizes = [r for r in readings if isinstance(r, SizeReading) and r.question in sights]
        if len(against) > len(counts) / 2:
            return (question,)
        if not any(_size_fits(model, _of_remedy(model, place), r) for place in decision.remedies for r in sizes):
            measured = [name for name in sights if topic.questions[name].kind == "size"]
            return (*measured, question) if not sizes else (question,)
    return ()


def outweighed(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> list[Reading]:
    """What was told that does not fit anything that the decision names, and so was outweighed by the rest."""
    named = [_of_remedy(topic.model, place) for place in decision.remedies]
    return [r for r in readings if not any(_bears_out(topic.model, kinds, r) for kinds in named)]


def unlike(topic: Topic, fastening: str, readings: Sequence[Reading]) -> list[Reading]:
    """What was told that does not fit this one fastening."""
    place = topic.model.fastenings.index(fastening)
    return [r for r in readings if not _bears_out(topic.model, range(place, place + 1), r)]


def _bears_out(model: Model, kinds: range, reading: Reading) -> bool:
    table = model.tables.get(reading.question)
    if table is None or isinstance(reading, UnsureReading | BoundReading):
        return True
    if isinstance(reading, CountReading):
        return _fits(model, kinds, reading)
    if isinstance(reading, SizeReading):
        return _size_fits(model, kinds, reading)
    assert isinstance(table, ListTable)
    chance = table.truth[list(kinds)][:, [choice == reading.choice for choice in table.labels]]
    told = chance.sum(axis=1)
    return bool(((told < 1 - _CHOICE_FITS) if reading.denied else (told > _CHOICE_FITS)).any())


def _of_remedy(model: Model, remedy: int) -> range:
    """The places of the fastenings that need a remedy."""
    ends = [*model.starts[1:], len(model.fastenings)]
    return range(int(model.starts[remedy]), int(ends[remedy]))


def _fits(model: Model, kinds: range, count: CountReading) -> bool:
    """Whether a count may come out of one of these fastenings."""
    table = model.tables[count.question]
    assert isinstance(table, ListTable)
    columns = [n for n, label in enumerate(table.labels) if isinstance(label, int) and count.low <= label <= count.high]
    rows = table.rows[list(kinds)]
    return bool(columns) and bool((rows[:, columns].max(axis=1) >= _FITS * rows.max(axis=1)).any())


def _size_fits(model: Model, kinds: range, size: SizeReading) -> bool:
    """Whether a size is that of one of these fastenings, and no gross error."""
    table = model.tables[size.question]
    density = table.likelihood([size])[list(kinds)]
    return float(density.max()) >= _SIZE_FITS
