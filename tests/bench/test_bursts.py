"""One person's thousand messages at once cost the same each, and a bystander is answered nearly as if nobody else
wrote."""

import asyncio
from statistics import median

import pytest

from tests.bench.bursts import burst, bystander
from tests.bench.conftest import Figures

#: Bursts that are tried: other work makes one dearer now and then; what grows with each message grows in every one.
TRIED = 4


def test_each_message_of_a_burst_costs_the_same(figures: Figures) -> None:
    for tried in range(1, TRIED + 1):
        took = asyncio.run(burst(1000, 100))
        early, late = median(took[1:4]), median(took[-3:])
        told = f"{early:.1f}; {late:.1f} ms"
        figures(f"a message of a burst of 1,000, early; late ({tried})", told, "1.5 times in one of four")
        if late < 1.5 * early:
            return
    raise AssertionError(f"each of {TRIED} bursts grew dearer, the last from {told} a message")


@pytest.mark.campaign
def test_a_bystander_hardly_notices_a_flood(figures: Figures) -> None:
    idle, flooded = median(asyncio.run(bystander(60, flood=0))), median(asyncio.run(bystander(60, flood=3000)))
    figures("a bystander is answered, beside a flood", f"{idle:.1f}; {flooded:.1f} ms", "2 times")
    assert flooded <= 2 * idle
