"""The bot that others are measured against says what was said, in a process of its own."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio

from tests.bench.matrix_trip import measure
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.echo import Echo
from tests.channels.matrix.faults import Faults, dropped
from tests.channels.matrix.homeserver import Homeserver

pytestmark = pytest.mark.asyncio


@pytest_asyncio.fixture
async def echo(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[Echo]:
    user = await homeserver.register(f"echo-{tmp_path.name[-40:].lower()}", PASSWORD)
    async with Echo(line.url, user, PASSWORD, tmp_path / "echo") as bot:
        yield bot


async def test_it_says_every_text_once_again_and_nothing_else(echo: Echo, people: People) -> None:
    ada = await people("ada")
    for encrypted in (False, True):
        room = await ada.create_direct_room(echo.user_id, encrypted)
        await ada.sees_join(room, echo.user_id)
        await ada.say(room, "a notice", kind="m.notice")
        await ada.say(room, "Four notches")
        heard = await ada.hears(room=room)
        assert (heard.sender, heard.kind, heard.body) == (echo.user_id, "m.text", "Four notches")
        assert heard.encrypted == encrypted
        trips = await measure(ada, echo.user_id, room, 5)
        assert len(trips) == 5
        assert all(0 < trip < 10 for trip in trips)
        spoken = [
            each.body for each in ada.seen if each.is_message and each.sender == echo.user_id and each.room == room
        ]
        assert spoken == ["Four notches", *(f"number {number}" for number in range(5))]


async def test_it_comes_through_an_absence_of_the_server(line: Faults, echo: Echo, people: People) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(echo.user_id, encrypted=True)
    await ada.sees_join(room, echo.user_id)
    line.script("GET", "/sync", dropped(), times=6)
    for text in ("before", "after"):
        await ada.say(room, text)
        assert (await ada.hears()).body == text
    assert line.scripts[0].left == 0
