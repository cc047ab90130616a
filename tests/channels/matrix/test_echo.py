"""The bot that others are measured against says what was said, in a process of its own."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio

from tests.bench.matrix_trip import measure
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.echo import Echo
from tests.channels.matrix.homeserver import Homeserver

pytestmark = pytest.mark.asyncio


@pytest_asyncio.fixture
async def echo(homeserver: Homeserver, tmp_path: Path) -> AsyncIterator[Echo]:
    user = await homeserver.register(f"echo-{tmp_path.name[-40:].lower()}", PASSWORD)
    async with Echo(homeserver.url, user, PASSWORD, tmp_path / "echo") as bot:
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


async def test_it_comes_through_a_restart_of_the_server(homeserver: Homeserver, echo: Echo, people: People) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(echo.user_id, encrypted=True)
    await ada.sees_join(room, echo.user_id)
    await ada.say(room, "before")
    assert (await ada.hears()).body == "before"
    await homeserver.stop()
    await asyncio.sleep(0.1)
    await homeserver.start()
    await ada.say(room, "after")
    assert (await ada.hears()).body == "after"
