"""The platform's pace: what goes out in any second, and that changes of old messages only take what is left over."""

import asyncio
from collections.abc import Callable

import pytest

from triagebot.channels.telegram import bot_api
from triagebot.channels.telegram.bot_api import Pace
from triagebot.channels.telegram.limits import CHAT_ROOM, GROUP_ROOM
from triagebot.rates import Buckets, Rate, Window

pytestmark = pytest.mark.asyncio

#: What the platform takes: of the bot in a second, in a chat in a second beside a short burst, in a group in a minute.
OF_THE_BOT, IN_A_GROUP = 30, 20


def most_in(rate: Rate, seconds: float) -> int:
    """How many messages go out in the busiest so many seconds, if there are always more to go."""
    buckets = Buckets(rate, 1, clock=lambda: 0.0)
    at = [buckets.reserve("one") for _ in range(2000)]
    return max(sum(first <= each < first + seconds for each in at) for first in at[:200])


async def test_no_chat_sees_more_than_the_platform_takes() -> None:
    assert most_in(GROUP_ROOM, 60.0) < IN_A_GROUP
    assert most_in(CHAT_ROOM, 60.0) <= 60


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Sleeping takes no time, and puts the clock forward; so does what is given back."""
    now, yielded = [1000.0], asyncio.sleep

    def pass_by(seconds: float) -> None:
        now[0] += max(seconds, 1e-6)

    async def sleep(seconds: float) -> None:
        pass_by(seconds)
        await yielded(0)

    monkeypatch.setattr(bot_api, "monotonic", lambda: now[0])
    monkeypatch.setattr(bot_api.asyncio, "sleep", sleep)
    monkeypatch.setattr(bot_api, "Buckets", lambda rate, most: Buckets(rate, most, clock=lambda: now[0]))
    monkeypatch.setattr(bot_api, "Window", lambda rate: Window(rate, clock=lambda: now[0]))
    return pass_by


async def test_a_change_leaves_room_for_the_next_message(clock: Callable[[float], None]) -> None:
    pace = Pace()
    await pace.room(1)
    assert await pace.room_left_over()
    assert pace._bot.wait() == 0, "the next person does not wait for the change"


async def test_there_is_no_room_left_over_while_messages_wait_long(clock: Callable[[float], None]) -> None:
    pace = Pace()
    await asyncio.gather(*(pace.room(chat) for chat in range(50)))
    assert not await pace.room_left_over(), "others waited until just now"
    clock(2.0)
    assert await pace.room_left_over()


async def test_whoever_wakes_late_does_not_have_all_behind_go_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The machine is busy: it looks at its sleepers every third of a second."""
    now, yielded = [1000.0], asyncio.sleep

    async def sleep(seconds: float) -> None:
        until = now[0] + seconds
        while now[0] < until:
            await yielded(0)

    monkeypatch.setattr(bot_api, "monotonic", lambda: now[0])
    monkeypatch.setattr(bot_api.asyncio, "sleep", sleep)
    monkeypatch.setattr(bot_api, "Buckets", lambda rate, most: Buckets(rate, most, clock=lambda: now[0]))
    monkeypatch.setattr(bot_api, "Window", lambda rate: Window(rate, clock=lambda: now[0]))
    pace, went = Pace(), list[float]()

    async def go(chat: int) -> None:
        await pace.room(chat)
        went.append(now[0])

    going = [asyncio.ensure_future(go(chat)) for chat in range(150)]
    while len(went) < len(going):
        for _ in range(200):
            await yielded(0)
        now[0] += 1 / 3
    seen = [sum(first <= each < first + 1.0 for each in went) for first in went]
    assert 25 <= max(seen) < OF_THE_BOT
