"""Killed at any moment, it loses nothing and does nothing twice: see `campaign`. Five kills and ten people in an
ordinary run, ten kills and twenty people in a long one, and hundreds of kills in a campaign."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.channels.telegram.campaign import PEOPLE, campaign
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
    ("kills", "people", "seed"),
    [
        (effort(5, 10), effort(10, PEOPLE), 1),
        *(pytest.param(50, PEOPLE, seed, marks=pytest.mark.campaign) for seed in (2, 3, 4)),
    ],
)
async def test_nothing_is_lost_and_nothing_happens_twice(
    apart: Telegram, tmp_path: Path, kills: int, people: int, seed: int, webhook: bool
) -> None:
    report = await campaign(apart, tmp_path, kills=kills, people=people, seed=seed, webhook=webhook)
    print(f"\n{report}")
    assert report.people >= people
    assert report.trouble == dict.fromkeys(report.trouble, 0)
    assert report.repeated <= kills
