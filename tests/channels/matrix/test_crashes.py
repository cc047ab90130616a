"""Killed at any moment, it loses nothing and does nothing twice: see `campaign`. Four kills and six people in an
ordinary run, six kills and ten people in a long one, and a hundred kills in a campaign."""

from pathlib import Path

import pytest

from tests.channels.matrix.campaign import PEOPLE, Campaign
from tests.channels.matrix.homeserver import Homeserver
from tests.effort import effort

pytestmark = [pytest.mark.asyncio, pytest.mark.slow]


@pytest.mark.parametrize(
    ("kills", "people", "seed"),
    [
        (effort(4, 6), effort(6, PEOPLE), 1),
        *(pytest.param(50, PEOPLE, seed, marks=pytest.mark.campaign) for seed in (2, 3)),
    ],
)
async def test_nothing_is_lost_and_nothing_happens_twice(
    homeserver: Homeserver, tmp_path: Path, kills: int, people: int, seed: int
) -> None:
    report = await Campaign(homeserver, tmp_path, people).run(kills=kills, seed=seed)
    print(f"\n{report}")
    assert report.people >= people
    assert report.encrypted * 3 >= report.people
    assert report.trouble == dict.fromkeys(report.trouble, 0)
    assert (report.repeated, report.missing, report.unread) == (0, 0, 0), report.odd
