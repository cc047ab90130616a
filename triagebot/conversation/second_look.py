"""What must be looked at, or looked at again, before a remover is named. No wording.

Rules of this file, each a question to put, in this order:
- nobody has looked at the fitting itself yet (`sights`, `seen-by`);
- what is described is most likely no fastening at all (`mistaken`): the fitting is asked about again;
- a remover whose kind rests on the motion test (`motion`) is not named before somebody was asked to look at it;
- a remover that may have to be turned either way is not named before the question that decides it was answered twice;
- what does not fit the rest is asked once more, if it is of the fitting or something else would be named without it;
- counts that do not fit what would be named must be outnumbered by counts that do, or a person looks.
"""

from collections.abc import Collection, Sequence

from triagebot.identify import (
    BoundReading,
    ChoiceReading,
    CountReading,
    Decision,
    ListTable,
    Model,
    Reading,
    SizeReading,
    UnsureReading,
    belief,
    odd_one_out,
)
from triagebot.identify.information import Array
from triagebot.topics import Topic

#: From this share on, what is described is taken for no fastening at all.
_MISTAKEN = 0.25
#: A count that comes out so much less often than the usual one does not fit a fastening: two off of twelve, say, or
#: of four.
_FITS = 0.006
#: The least density (1/mm) of a size that fits; a gross error, which may be anything, has about a sixth of it.
_SIZE_FITS = 0.01
#: The least density (1/mm) of a size that is usual: anywhere in a ring's range, or not far from the kind's own.
_SIZE_USUAL = 0.05
#: Of look-alikes, so many times likelier must what was told be of the one that is named, for it to be sure.
_APART = 20
#: A choice that is true of such a fastening no more often than this does not fit it.
_CHOICE_FITS = 0.04


def question_before_naming(
    topic: Topic,
    decision: Decision,
    shares: Array,
    readings: Sequence[Reading],
    odd: str | None,
    able: Collection[str],
) -> str | None:
    """The question to put first, of those that this person is `able` to be asked; None where nothing is left to see."""
    wanted = (
        _unseen(topic, readings, able) if decision.kind != "person" else None,
        _mistaken(topic, shares, readings),
        motion_unseen(topic, decision, shares, readings),
        turned_either_way(topic, decision, readings),
        odd if _decides(topic, decision, readings, odd) else None,
        *contradicted(topic, decision, readings),
    )
    return next((question for question in wanted if question in able), None)


def doubtful(topic: Topic, readings: Sequence[Reading]) -> str | None:
    """The question whose answer fits the others badly; None where all fit, or where it is rare only because the kind
    is that leads, which has a remover, and is just what is seen on it."""
    model = topic.model
    odd = odd_one_out(model, readings)
    told = next((r for r in reversed(readings) if r.question == odd and not isinstance(r, UnsureReading)), None)
    if odd is None or told is None:
        return odd
    leading = int(model.by_remedy(belief(model, readings)).argmax())
    kinds = _of_remedy(model, leading)
    known = model.remedies[leading].remover is not None
    fits = known and _usual(model, kinds, told) and all(_bears_out(model, kinds, reading) for reading in readings)
    return None if fits else odd


def _decides(topic: Topic, decision: Decision, readings: Sequence[Reading], odd: str | None) -> bool:
    """Whether what was told once, and fits the rest badly, is of the fitting itself or may have decided what is named:
    without it, something else leads."""
    if odd is None or decision.kind == "person" or _answers(readings, odd) != 1:
        return False
    rest = topic.model.by_remedy(belief(topic.model, [r for r in readings if r.question != odd]))
    return odd in topic.flow.outcomes.sights or int(rest.argmax()) not in decision.remedies


def due_anyway(
    topic: Topic, decision: Decision, shares: Array, readings: Sequence[Reading], able: Collection[str]
) -> str | None:
    """What would be put before a remover is named whatever else is told: a look at the fitting, and at the motion."""
    if decision.kind == "person":
        return None
    wanted = (_unseen(topic, readings, able), motion_unseen(topic, decision, shares, readings))
    return next((question for question in wanted if question in able), None)


def motion_unseen(topic: Topic, decision: Decision, shares: Array, readings: Sequence[Reading]) -> str | None:
    """The motion test, where a remover would be named that rests on it, nobody has seen what moves, and nothing else
    that was told says as much: fastenings that move otherwise keep more than `doubt`."""
    rule = topic.flow.outcomes.motion
    if rule is None or decision.kind == "person" or any(_is_seen(r, rule.question) for r in readings):
        return None
    model = topic.model
    table = model.tables.get(rule.question)
    named = [model.remedies[place].remover for place in decision.remedies]
    if table is None or not any(
        remover and not set(rule.removers).isdisjoint(topic.removers[remover].traits) for remover in named
    ):
        return None
    assert isinstance(table, ListTable)
    moves = table.truth[[n for place in decision.remedies for n in _of_remedy(model, place)]].max(axis=0)
    otherwise = float(shares @ (table.truth @ (1 - moves)))
    return rule.question if otherwise > rule.doubt else None


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


def measured_as_named(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> frozenset[str]:
    """Questions whose size is just that of the one kind that would be named: measured once more, it would change
    nothing."""
    if decision.kind != "answer":
        return frozenset()
    kinds = _of_remedy(topic.model, decision.remedies[0])
    sizes = [r for r in readings if isinstance(r, SizeReading)]
    return frozenset(r.question for r in sizes if _usual(topic.model, kinds, r))


def not_told_apart(topic: Topic, decision: Decision, shares: Array) -> bool:
    """Whether what is named has a declared look-alike that nothing told speaks against, however rare it is: what was
    told must be so many times likelier (`_APART`) of the one than of the other."""
    if decision.kind != "answer":
        return False
    model, named = topic.model, decision.remedies[0]
    for pair in topic.catalogue.look_alikes:
        places = [model.fastenings.index(name) for name in pair.fastenings]
        mine = [place for place in places if place in _of_remedy(model, named)]
        if len(mine) == 1:
            other = next(place for place in places if place not in mine)
            told = shares / model.prior
            if told[mine[0]] < _APART * told[other]:
                return True
    return False


def counted_otherwise(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> bool:
    """Whether as many counts of the fitting do not fit what would be named as do."""
    counts = [r for r in readings if isinstance(r, CountReading) and r.question in topic.flow.outcomes.sights]
    against = [r for r in outweighed(topic, decision, counts) if isinstance(r, CountReading)]
    return bool(against) and 2 * len(against) >= len(counts)


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


def _usual(model: Model, kinds: range, reading: Reading) -> bool:
    """Whether a count or a choice is the commonest answer for one of these fastenings, or a size is near its own."""
    table = model.tables.get(reading.question)
    if isinstance(reading, SizeReading) and table is not None:
        return float(table.likelihood([reading])[list(kinds)].max()) >= _SIZE_USUAL
    if not isinstance(table, ListTable) or not isinstance(reading, CountReading | ChoiceReading):
        return False
    if isinstance(reading, CountReading):
        named = [isinstance(label, int) and reading.low <= label <= reading.high for label in table.labels]
    else:
        named = [(choice == reading.choice) is not reading.denied for choice in table.labels]
    rows = table.rows[list(kinds)]
    return bool((rows[:, named].max(axis=1, initial=0) >= rows.max(axis=1)).any())


def _of_remedy(model: Model, remedy: int) -> range:
    """The places of the fastenings that need a remedy."""
    ends = [*model.starts[1:], len(model.fastenings)]
    return range(int(model.starts[remedy]), int(ends[remedy]))


def _fits(model: Model, kinds: range, count: CountReading) -> bool:
    """Whether a count may come out of one of these fastenings."""
    table = model.tables[count.question]
    assert isinstance(table, ListTable)
    columns = [n for n, label in enumerate(table.labels) if isinstance(label, int) and count.low <= label <= count.high]
    rows = table.rows[list(kinds)] - table.confusion.min()  # without numbers that mean nothing, which may be any
    return bool(columns) and bool((rows[:, columns].max(axis=1) >= _FITS * rows.max(axis=1)).any())


def _size_fits(model: Model, kinds: range, size: SizeReading) -> bool:
    """Whether a size is that of one of these fastenings, and no gross error."""
    table = model.tables[size.question]
    density = table.likelihood([size])[list(kinds)]
    return float(density.max()) >= _SIZE_FITS


def _is_seen(reading: Reading, question: str) -> bool:
    return reading.question == question and not isinstance(reading, UnsureReading)


def _unseen(topic: Topic, readings: Sequence[Reading], able: Collection[str]) -> str | None:
    sights, seen_by = topic.flow.outcomes.sights, topic.flow.outcomes.seen_by
    if any(r.question in sights and not isinstance(r, UnsureReading) for r in readings):
        return None
    choices = [r for r in readings if isinstance(r, ChoiceReading) and not r.denied]
    if any(seen_by.get(r.question) == r.choice for r in choices):
        return None
    return next((sight for sight in sights if sight in able), None)


def mistaken_for(topic: Topic, shares: Array) -> str | None:
    """What is no fastening at all and most likely was looked at in place of the fitting; None where nothing says so."""
    places = [n for n, name in enumerate(topic.model.fastenings) if topic.fastenings[name].mistaken]
    likeliest = max(places, key=lambda place: shares[place], default=None)
    return topic.model.fastenings[likeliest] if likeliest is not None and shares[likeliest] >= _MISTAKEN else None


def _mistaken(topic: Topic, shares: Array, readings: Sequence[Reading]) -> str | None:
    told = [r.question for r in readings if r.question in topic.flow.outcomes.sights]
    return min(dict.fromkeys(told), key=told.count) if told and mistaken_for(topic, shares) else None


def turned_either_way(topic: Topic, decision: Decision, readings: Sequence[Reading]) -> str | None:
    """What decides which way the remover named is turned, where it may be either and that was told only once."""
    question = topic.flow.outcomes.direction
    if question is None or decision.kind != "answer":
        return None
    remedies = topic.model.remedies
    named = remedies[decision.remedies[0]]
    either = any(other.remover == named.remover and other != named for other in remedies)
    return question if either and _answers(readings, question) == 1 else None


def _answers(readings: Sequence[Reading], question: str | None) -> int:
    return sum(r.question == question for r in readings)
