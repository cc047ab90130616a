"""The public limits: about one message a second in a chat, thirty a second by a bot, twenty a minute in a group."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from telegram import Bot
from telegram.error import RetryAfter
from telegram.ext import AIORateLimiter, ExtBot

from tests.doubles.telegram import Limits
from tests.doubles.telegram.world import Flood
from tests.doubles.telegram_tests.stage import Stage

ON = Limits(on=True)


def sent(flood: Flood, chat: int, seconds: range, a_second: int, *, is_group: bool = False) -> int:
    """How many of so many a second get through."""
    times = [second + number / a_second for second in seconds for number in range(a_second)]
    return sum(flood.count(1, chat, time, is_group=is_group) == 0 for time in times)


def test_a_chat_takes_one_a_second_and_a_short_burst() -> None:
    assert sent(Flood(ON), 7, range(60), 5) in (60 + ON.chat_burst - 1, 60 + ON.chat_burst)


def test_a_group_takes_twenty_a_minute() -> None:
    flood = Flood(Limits(on=True, chat_rate=1000, chat_burst=1000))
    assert sent(flood, -7, range(60), 2, is_group=True) in (39, 40), "the burst, and then as much again in a minute"
    assert sent(flood, -7, range(60, 120), 2, is_group=True) in (19, 20, 21)


def test_a_bot_takes_thirty_a_second_over_all_chats() -> None:
    flood = Flood(ON)
    through = sum(flood.count(1, chat, chat / 100, is_group=False) == 0 for chat in range(1000))
    assert through in range(30 * 10 + 28, 30 * 10 + 32)
    assert flood.count(2, 1, 0.0, is_group=False) == 0, "another bot has its own room"


@given(st.lists(st.floats(0, 3), min_size=1, max_size=40), st.integers(1, 5))
def test_who_waits_as_long_as_told_gets_through(pauses: list[float], burst: int) -> None:
    flood, now = Flood(Limits(on=True, chat_burst=burst)), 0.0
    for pause in pauses:
        now += pause
        wait = flood.count(1, 7, now, is_group=False)
        if wait:
            now += wait
            assert flood.count(1, 7, now, is_group=False) == 0


@pytest.mark.asyncio
async def test_the_client_is_told_how_long_to_wait(stage: Stage) -> None:
    stage.telegram.set_limits(Limits(on=True, chat_rate=0.25, chat_burst=1))
    await stage.bot.send_message(stage.ada.id, "1")
    with pytest.raises(RetryAfter) as refused:
        await stage.bot.send_message(stage.ada.id, "2")
    assert refused.value.retry_after == timedelta(seconds=4)
    stage.bob.start()
    await stage.bot.send_message(stage.bob.id, "not held up")
    assert stage.calls[-2][1] == "Too Many Requests: retry after 4"
    stage.telegram.skip(4)
    await stage.bot.send_message(stage.ada.id, "2")
    assert [message.text for message in stage.ada.screen().from_bots] == ["1", "2"]


@pytest.mark.asyncio
async def test_the_clients_own_limiter_waits_as_told(stage: Stage) -> None:
    stage.telegram.set_limits(Limits(on=True, chat_burst=1))
    limiter = AIORateLimiter(overall_max_rate=0, group_max_rate=0, max_retries=3)
    bot: Bot = ExtBot(stage.token, base_url=stage.telegram.base_url, rate_limiter=limiter)
    async with bot:
        for text in ("1", "2"):
            await bot.send_message(stage.ada.id, text)
    assert [message.text for message in stage.ada.screen().from_bots] == ["1", "2"]
    assert [error for method, error, _ in stage.calls if error] == ["Too Many Requests: retry after 1"]
