"""What is told of a request that fails on the way."""

import traceback
from typing import Any

import aiohttp
import pytest
from telegram.error import NetworkError, TelegramError, TimedOut

from triagebot.channels.telegram.bot_api import Connections

pytestmark = pytest.mark.asyncio

ADDRESS = "https://api.example.org/bot123456:a-secret-token/getMe"


@pytest.mark.parametrize(
    ("fault", "meant"),
    [
        (aiohttp.ConnectionTimeoutError(f"Connection timeout to host {ADDRESS}"), TimedOut),
        (aiohttp.InvalidURL(ADDRESS), NetworkError),
        (OSError(f"no way to {ADDRESS}"), NetworkError),
    ],
)
async def test_no_trace_of_a_failure_holds_the_token(
    monkeypatch: pytest.MonkeyPatch, fault: Exception, meant: type[TelegramError]
) -> None:
    async def fails(*_: Any, **__: Any) -> None:
        raise fault

    monkeypatch.setattr(aiohttp.ClientSession, "_request", fails)
    connections = Connections(1)
    try:
        for work in (connections.do_request(ADDRESS, "POST"), connections.download(ADDRESS, 10)):
            with pytest.raises(meant) as raised:
                await work
            assert type(raised.value) is meant
            assert raised.value.__cause__ is None
            assert "a-secret-token" not in "".join(traceback.format_exception(raised.value, limit=0))
    finally:
        await connections.shutdown()
