"""Killed at any moment, it loses nothing and does nothing twice: see `campaign`. Five kills in an ordinary run, ten in
a long one, and hundreds in a campaign."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.channels.telegram.campaign import campaign
from tests.doubles.telegram import Telegram, serve_apart
from tests.effort import effort

pytestmark = [pytest.mark.asyncio, pytest.mark.slow]


@pytest.fixture
def apart() -> Iterator[Telegram]:
    """The platform in a process of its own."""
    with serve_apart() as telegram:
        yield telegram


@pytest.mark.parametrize("webhook", [False, True], ids=["polling", "webhook"])
@pytest.mark.parametrize(
    ("kills", "seed"), [(effort(5, 10), 1), *(pytest.param(50, seed, marks=pytest.mark.campaign) for seed in (2, 3, 4))]
)
async def test_nothing_is_lost_and_nothing_happens_twice(
    apart: Telegram, tmp_path: Path, kills: int, seed: int, webhook: bool
) -> None:
    report = await campaign(apart, tmp_path, kills=kills, seed=seed, webhook=webhook)
    print(f"\n{report}")
    assert report.people >= 20
    assert report.trouble == dict.fromkeys(report.trouble, 0)
    assert report.repeated <= kills
