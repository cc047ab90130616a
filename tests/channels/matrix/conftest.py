"""A real homeserver for the run, people on it, and a bad line to it.

Where Synapse cannot be had the tests are skipped and say why; in CI that is a failure, so that they never go missing.
"""

import asyncio
import os
import shutil
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import pytest_asyncio

from tests.channels.matrix.bot import Bot, Bots
from tests.channels.matrix.faults import Faults
from tests.channels.matrix.homeserver import Homeserver, NoHomeserver
from tests.channels.matrix.person import Person
from tests.store.ciphers import throw_away_cipher

PASSWORD = "spokes and rims"
_NUMBERS = count(1)

People = Callable[..., Awaitable[Person]]


def missing(reason: str) -> None:
    """Skips, or in CI fails, what needs a homeserver."""
    if os.environ.get("CI"):
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)


#: In memory, where there is enough of it, a message costs the server half as long as on a disk.
_MEMORY, _ENOUGH = Path("/dev/shm"), 512 << 20


@pytest.fixture(scope="session")
def _one_homeserver() -> Iterator[Homeserver]:
    if find_spec("synapse") is None:
        missing("there is no homeserver to talk to: matrix-synapse is not installed (tests/requirements.txt)")
    roomy = _MEMORY.is_dir() and os.access(_MEMORY, os.W_OK) and shutil.disk_usage(_MEMORY).free > _ENOUGH
    with TemporaryDirectory(prefix="homeserver-", dir=_MEMORY if roomy else None) as folder:
        server = Homeserver(Path(folder))
        try:
            asyncio.run(server.start())
        except NoHomeserver as error:
            missing(f"there is no homeserver to talk to: {error}")
        try:
            yield server
        finally:
            asyncio.run(server.stop())


@pytest_asyncio.fixture
async def homeserver(_one_homeserver: Homeserver) -> AsyncIterator[Homeserver]:
    """One a run and process; running, whatever the test before did to it."""
    await _one_homeserver.start()
    yield _one_homeserver
    _one_homeserver.resume()


@pytest_asyncio.fixture
async def line(homeserver: Homeserver) -> AsyncIterator[Faults]:
    async with Faults(homeserver.url) as faults:
        yield faults


@pytest_asyncio.fixture
async def people(homeserver: Homeserver, tmp_path: Path) -> AsyncIterator[People]:
    """`await people("ada")` is somebody new of that name, logged in; with `user_id`, one more device of theirs."""
    there: list[Person] = []

    async def arrive(name: str, url: str = "", user_id: str = "") -> Person:
        user_id = user_id or await homeserver.register(f"{name}-{next(_NUMBERS)}", PASSWORD)
        person = Person(url or homeserver.url, user_id, tmp_path / f"{name}-{len(there)}", f"{name}'s phone")
        there.append(person)
        await person.login(PASSWORD)
        return person

    yield arrive
    await asyncio.gather(*(person.close() for person in there))


@pytest_asyncio.fixture
async def bots(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[Bots]:
    """`await bots()` is a bot with an account of its own behind the bad line, syncing from now on."""
    made: list[Bot] = []

    async def start(started: bool = True, **login: Any) -> Bot:
        user = await homeserver.register(f"bot-{next(_NUMBERS)}", PASSWORD)
        login = login or {"password": PASSWORD}
        made.append(Bot(line.url, user, tmp_path / f"bot-{len(made)}", throw_away_cipher(), **login))
        if started:
            await made[-1].start()
        return made[-1]

    yield start
    await asyncio.gather(*(bot.connection.close() for bot in made))


@pytest_asyncio.fixture
async def bot(bots: Bots) -> Bot:
    return await bots()
