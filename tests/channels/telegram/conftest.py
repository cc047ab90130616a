"""A fake platform for the tests of a module, set back to fair weather after each."""

from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import pytest
import pytest_asyncio

from tests.channels.telegram.stage import Booth, polling
from triagebot.testing_telegram import Limits, Telegram, Weather, serve


@pytest.fixture(scope="module")
def served() -> Iterator[Telegram]:
    with serve() as telegram:
        yield telegram


@pytest.fixture
def platform(served: Telegram) -> Iterator[Telegram]:
    yield served
    served.set_weather(Weather())
    served.set_limits(Limits())
    served.outage(0)
    served.tune(press_answered_within=30.0, webhook_pace=1.0)


@pytest_asyncio.fixture
async def booth(platform: Telegram, tmp_path: Path) -> AsyncIterator[Booth]:
    """A bot that fetches its messages."""
    async with polling(platform, tmp_path) as opened:
        yield opened
