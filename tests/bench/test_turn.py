"""One turn on the built-in catalogue, over whole conversations: median at most 3 ms, 99th percentile at most 15 ms."""

import pytest

from tests.bench.clocks import Times
from tests.bench.conftest import Figures
from tests.bench.talks import TALKS, hold
from triagebot.conversation import Guide

pytestmark = pytest.mark.campaign

MEDIAN, HIGHEST = 3.0, 15.0
ROUNDS = 12


def test_a_turn(guide: Guide, figures: Figures) -> None:
    for _ in hold(guide, Times()):
        pass
    times = Times()
    for _ in range(ROUNDS):
        ends = list(hold(guide, times))
    assert len(times.wall) == ROUNDS * sum(map(len, TALKS))
    assert {"answer", "person"} <= {person.case.now.outcome for person in ends}, "the talks reach their ends"
    figures("a turn, built-in catalogue", str(times), f"median <= {MEDIAN} ms, 99th percentile <= {HIGHEST} ms")
    assert times.median <= MEDIAN
    assert times.at(99) <= HIGHEST
