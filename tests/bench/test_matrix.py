"""On Matrix: from somebody's send until they can read the answer, beside a bot of nothing but the client library.

The same homeserver, the same people, each bot in a process of its own. The other bot says again what was said, and
keeps nothing. A turn of ours is durable: message, answer and what goes out are on the disk before it goes out; and each
one here is an answer to the open question, so that this is changed, too, to show the answer.

They take turns, with nobody else there. People read what they were answered before they write again, so all comes to
rest between two round trips, and what a bot does after its answer (changes, numbers, receipts) counts for neither.
"""

import asyncio
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import numpy as np
import pytest
import pytest_asyncio

from tests.bench.conftest import Figures
from tests.bench.matrix_trip import measure
from tests.channels.matrix.campaign import serving
from tests.channels.matrix.conftest import PASSWORD, People, _one_homeserver, homeserver, people
from tests.channels.matrix.echo import Echo
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.person import Person

__all__ = ["_one_homeserver", "homeserver", "people"]

pytestmark = [pytest.mark.asyncio, pytest.mark.campaign]

#: Round trips with each bot, by so many people in turn; so many of each before, which do not count.
TRIPS, PEOPLE, WARM = 200, 4, 4
#: Seconds in which a bot has done all that it does after an answer.
REST = 0.6
#: Ours takes at most so many times as long, by the median, and by the 99th percentile.
MOST, MOST_LATE = 1.3, 1.5


@dataclass
class Trips:
    """With one bot: `rooms` by person; what each round trip took, s."""

    user: str
    rooms: dict[str, str] = field(default_factory=dict)
    took: list[float] = field(default_factory=list)
    said: "count[int]" = field(default_factory=lambda: count(1))

    def answer(self, _: int) -> str:
        """Another one each time, to the same question; one message comes back, and no picture."""
        return f"{9 + next(self.said) % 2} sprockets"

    async def go(self, person: Person) -> None:
        self.took += await measure(person, self.user, self.rooms[person.user_id], 1, self.answer)
        await asyncio.sleep(REST)

    @property
    def median(self) -> float:
        return float(np.median(self.took))

    @property
    def late(self) -> float:
        return float(np.percentile(self.took, 99))

    def __str__(self) -> str:
        return f"median {self.median * 1e3:.0f} ms, 99th percentile {self.late * 1e3:.0f} ms ({len(self.took)} trips)"


@pytest_asyncio.fixture
async def bots(homeserver: Homeserver, tmp_path: Path) -> AsyncIterator[tuple[Trips, Trips]]:
    """The other one, and ours."""
    users = [await homeserver.register(f"{name}-{tmp_path.name[-30:].lower()}", PASSWORD) for name in ("echo", "ours")]
    ours = serving(homeserver, users[1], tmp_path / "ours")
    try:
        async with Echo(homeserver.url, users[0], PASSWORD, tmp_path / "echo"):
            await ours.ready(ours.start())
            yield Trips(users[0]), Trips(users[1])
    finally:
        ours.end()


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_from_a_message_to_its_answer(
    bots: tuple[Trips, Trips],
    people: People,
    encrypted: bool,
    figures: Figures,
) -> None:
    echo, ours = bots
    there = [await people(f"rider{number}") for number in range(PEOPLE)]
    for bot in bots:
        for person in there:
            room = bot.rooms[person.user_id] = await person.create_direct_room(bot.user, encrypted)
            await person.sees_join(room, bot.user)
            if bot is ours:
                await person.hears(room=room)
            for _ in range(WARM):
                await bot.go(person)
        bot.took.clear()
    for trip in range(TRIPS):
        for bot in bots:
            await bot.go(there[trip % PEOPLE])
    kind, times, late = "encrypted" if encrypted else "plain", ours.median / echo.median, ours.late / echo.late
    figures(f"Matrix, the library's echo, {kind}", str(echo))
    bound = f"{times:.2f} times the echo's median, <= {MOST}; {late:.2f} times its 99th percentile, <= {MOST_LATE}"
    figures(f"Matrix, ours, {kind}", str(ours), bound)
    assert times <= MOST
    assert late <= MOST_LATE
