"""A fake platform for the tests of a module, and a bot on it."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest_asyncio

from tests.channels.telegram.stage import Stage, polling
from tests.doubles.telegram import Telegram
from tests.doubles.telegram_tests.fixtures import platform, served

__all__ = ["platform", "served", "stage"]


@pytest_asyncio.fixture
async def stage(platform: Telegram, tmp_path: Path) -> AsyncIterator[Stage]:
    """A bot that fetches its messages."""
    async with polling(platform, tmp_path) as opened:
        yield opened
