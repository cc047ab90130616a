"""A bot at work behind the bad line, for tests of the channel: import the fixtures that a test takes."""

import asyncio
from collections.abc import AsyncIterator
from itertools import count
from pathlib import Path

import pytest
import pytest_asyncio

from tests.channels.matrix.conftest import PASSWORD
from tests.channels.matrix.faults import Faults
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.stage import Stage, Stages, account
from tests.effort import effort

#: A room without encryption is taken from hello to the end, shown a picture and sent a photo in every run; what else is
#: done there is tried in a long run (`EITHER`).
BOTH = pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
EITHER = pytest.mark.parametrize(
    "encrypted", effort((True,), (False, True)), ids=effort(("encrypted",), ("plain", "encrypted"))
)
_NUMBERS = count(1)


@pytest_asyncio.fixture
async def stages(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[Stages]:
    """`await stages()` is a bot at work behind the bad line, with an account of its own."""
    made: list[Stage] = []

    async def start(**more: object) -> Stage:
        user = await homeserver.register(f"wheels-{next(_NUMBERS)}", PASSWORD)
        made.append(Stage(account(line.url, user, **more), tmp_path / f"stage-{len(made)}"))
        await made[-1].start()
        return made[-1]

    yield start
    await asyncio.gather(*(stage.stop() for stage in made))


@pytest_asyncio.fixture
async def stage(stages: Stages) -> Stage:
    return await stages()
