"""What counts as read right when a reader is measured."""

from typing import Any

import pytest

from tests.conversation.understanding.score import says
from triagebot.identify.readings import CountReading

#: A count as read, what was noted of the message, and whether that says it.
COUNTS: list[tuple[int, int, Any, bool]] = [
    (20, 48, ">20", True),
    (21, 48, ">20", True),
    (24, 48, ">20", False),
    (20, 20, ">20", False),
    (20, 48, ">=20", True),
    (1, 12, "<=12", True),
    (1, 15, "<15", True),
    (1, 14, "<15", True),
    (1, 15, ">15", False),
    (15, 48, "<15", False),
    (20, 48, 20, False),
    (11, 12, [11, 12], True),
    (11, 12, 12, True),
    (7, 12, 9, False),
    (20, 48, "unsure", False),
]


@pytest.mark.parametrize(("low", "high", "noted", "right"), COUNTS)
def test_a_count_is_read_right_where_it_begins_or_ends_as_it_was_bounded(
    low: int, high: int, noted: Any, right: bool
) -> None:
    assert says(CountReading("count", low, high), noted) is right
