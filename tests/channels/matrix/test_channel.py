"""The whole conversation in rooms of a real homeserver, plain and encrypted."""

import asyncio
from collections.abc import AsyncIterator
from itertools import count
from pathlib import Path

import pytest
import pytest_asyncio

from tests.channels.matrix.booth import Booth, Booths, Rider, account
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.faults import Faults
from tests.channels.matrix.homeserver import Homeserver

pytestmark = pytest.mark.asyncio

BOTH = pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
_NUMBERS = count(1)


@pytest_asyncio.fixture
async def booths(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[Booths]:
    """`await booths()` is a bot at work behind the bad line, with an account of its own."""
    made: list[Booth] = []

    async def start(**more: object) -> Booth:
        user = await homeserver.register(f"wheels-{next(_NUMBERS)}", PASSWORD)
        made.append(Booth(account(line.url, user, **more), tmp_path / f"booth-{len(made)}"))
        await made[-1].start()
        return made[-1]

    yield start
    await asyncio.gather(*(booth.stop() for booth in made))


@pytest_asyncio.fixture
async def booth(booths: Booths) -> Booth:
    return await booths()


@BOTH
@pytest.mark.parametrize("reacts", [False, True], ids=["typed", "by number"])
async def test_from_hello_to_the_remover(booth: Booth, people: People, encrypted: bool, reacts: bool) -> None:
    ada = await people("ada")
    room = await booth.meet(ada, encrypted)
    rider = Rider(ada, room, reacts=reacts)
    hello = await rider.next()
    assert "I am a bot" in hello.body
    end = await rider.to_the_end(hello)
    told = [heard.body for heard in ada.seen if heard.sender == booth.user and "Remover:" in heard.body]
    assert "the 4-notch freewheel remover, 24 mm" in told[0]
    assert all(heard.encrypted == encrypted for heard in ada.seen if heard.is_message)
    assert end.kind == "m.text"
