"""What people may say about rear sprockets, for tests that try anything: strategies named after the domain."""

from functools import cache

from hypothesis import strategies as st

from triagebot.identify import (
    BoundReading,
    ChoiceReading,
    CountReading,
    ListTable,
    Reading,
    SizeReading,
    UnsureReading,
)
from triagebot.topics import Topic, built_in_topic, load_topic

#: A question that no topic asks.
UNKNOWN_QUESTION = "colour-of-the-saddle"


@cache
def rear_sprockets() -> Topic:
    """The topic that ships; read once a process."""
    return load_topic(built_in_topic())


def questions() -> st.SearchStrategy[str]:
    """Questions of the real topic whose answers are evidence."""
    return st.sampled_from(sorted(rear_sprockets().model.tables))


def lengths() -> st.SearchStrategy[float]:
    """Lengths in mm that somebody might give, most of them near real fittings, some absurd."""
    return st.one_of(st.floats(18, 46), st.floats(0.1, 1000))


def means() -> st.SearchStrategy[str]:
    """Ways of measuring, one of them never heard of."""
    return st.sampled_from([*(m.id for m in rear_sprockets().flow.noise.means), "thumb"])


def readings_of(question: str) -> st.SearchStrategy[Reading]:
    """Any reading of one question of the real topic, "unsure" among them."""
    table = rear_sprockets().model.tables[question]
    unsure: st.SearchStrategy[Reading] = st.just(UnsureReading(question))
    if not isinstance(table, ListTable):
        sizes = st.builds(SizeReading, st.just(question), lengths(), st.floats(0, 10), means())
        at_least = st.builds(BoundReading, st.just(question), low=lengths(), means=means())
        at_most = st.builds(BoundReading, st.just(question), high=lengths(), means=means())
        return st.one_of(sizes, at_least, at_most, unsure)
    if isinstance(table.labels[0], str):
        return st.one_of(
            st.builds(ChoiceReading, st.just(question), st.sampled_from(table.labels), st.booleans()), unsure
        )
    counts = st.builds(
        lambda low, more: CountReading(question, low, low + more), st.integers(0, 60), st.sampled_from([0, 0, 0, 1, 3])
    )
    return st.one_of(counts, unsure)


def readings() -> st.SearchStrategy[Reading]:
    """Any reading of any question of the real topic, or of one that it does not ask."""
    known = questions().flatmap(readings_of)
    unknown = st.sampled_from([ChoiceReading(UNKNOWN_QUESTION, "red"), SizeReading(UNKNOWN_QUESTION, 23.0)])
    return st.one_of(known, known, known, unknown)


def cases(most: int = 10) -> st.SearchStrategy[list[Reading]]:
    """All that one person said, in the order in which they said it; questions may come up again."""
    return st.lists(readings(), max_size=most)
