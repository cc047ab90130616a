"""A server for the tests of a module, and for each test a bot and people of its own on it."""

from collections.abc import AsyncIterator

import pytest
import pytest_asyncio

from tests.doubles.telegram import Telegram
from tests.doubles.telegram_tests.fixtures import platform, served
from tests.doubles.telegram_tests.stage import Stage, client, fresh_token

__all__ = ["platform", "served", "stage", "telegram"]


@pytest.fixture(autouse=True)
def _new_kind_of_retry_after(monkeypatch: pytest.MonkeyPatch) -> None:
    """The client warns of the old kind, a number of seconds, and warnings are errors here."""
    monkeypatch.setenv("PTB_TIMEDELTA", "true")


@pytest.fixture
def telegram(platform: Telegram) -> Telegram:
    return platform


@pytest_asyncio.fixture
async def stage(telegram: Telegram) -> AsyncIterator[Stage]:
    token = fresh_token()
    telegram.add_bot(token, f"bot{token[:9]}_bot")
    ada = telegram.add_person("Ada Byron", username="ada", language="en", bot=token)
    bob = telegram.add_person("Bob", language="de", bot=token)
    ada.start()
    async with client(telegram, token) as bot:
        await bot.get_updates(offset=(await bot.get_updates())[-1].update_id + 1)
        yield Stage(telegram, token, bot, ada, bob)
