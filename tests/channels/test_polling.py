"""A stop cuts off what a channel waits for; pauses grow, and trouble is logged once."""

import asyncio
import logging

import pytest

from triagebot.channels.polling import FIRST_PAUSE, LONGEST_PAUSE, SAID_AGAIN, Failures, Lifetime
from triagebot.rates import SHORT, SOON

log = logging.getLogger("a channel")


def test_pauses_grow_and_are_never_shorter_than_wanted(caplog: pytest.LogCaptureFixture) -> None:
    failures = Failures("a channel", log)
    pauses = [failures.next("away") for _ in range(80)]
    assert pauses[:3] == [FIRST_PAUSE, 2 * FIRST_PAUSE, 4 * FIRST_PAUSE]
    assert max(pauses[:SOON]) == SHORT, "an outage of minutes is over within seconds of its end"
    assert pauses[SOON : SOON + 2] == [2 * SHORT, 4 * SHORT]
    assert pauses[-1] == LONGEST_PAUSE
    assert failures.next("away", 300.0) == 300.0
    failures.over()
    assert failures.next("away") == FIRST_PAUSE
    assert [record.getMessage() for record in caplog.records] == [
        "a channel: away; tried again until it works",
        "a channel: works again, after 81 failed attempts",
    ]


def test_how_long_ago_an_attempt_succeeded() -> None:
    now = [100.0]
    failures = Failures("a channel", log, lambda: now[0])
    failures.next("away")
    assert failures.reached is None
    failures.over()
    now[0] += 5.0
    failures.next("away")
    assert failures.reached == 5.0


def test_troubles_that_take_turns_are_each_told_once(caplog: pytest.LogCaptureFixture) -> None:
    now = [0.0]
    failures = Failures("a channel", log, lambda: now[0])
    for _ in range(5):
        failures.next("away")
        failures.next("a full disk")
    assert len(caplog.records) == 2
    now[0] += SAID_AGAIN + 1
    failures.next("away")
    assert len(caplog.records) == 3


@pytest.mark.asyncio
async def test_what_is_waited_for_comes_back_and_what_it_raises_too() -> None:
    lifetime = Lifetime()
    assert await lifetime.wait_for(asyncio.sleep(0, "done")) == "done"
    with pytest.raises(TimeoutError):
        await lifetime.wait_for(asyncio.wait_for(asyncio.Event().wait(), 0.01))
    assert not lifetime.ended()


@pytest.mark.asyncio
async def test_the_end_cuts_off_what_is_waited_for() -> None:
    lifetime = Lifetime()
    asyncio.get_running_loop().call_later(0.02, lifetime.end)
    with pytest.raises(asyncio.CancelledError):
        await lifetime.wait_for(asyncio.Event().wait())
    assert lifetime.ended()


@pytest.mark.asyncio
async def test_a_pause_takes_its_time_or_ends_with_the_shift() -> None:
    lifetime, loop = Lifetime(), asyncio.get_running_loop()
    begun = loop.time()
    await lifetime.pause(0.05)
    assert loop.time() - begun >= 0.04
    assert not lifetime.ended()
    loop.call_later(0.02, lifetime.end)
    await asyncio.wait_for(lifetime.pause(60.0), 5.0)
    await asyncio.wait_for(lifetime.pause(60.0), 5.0)
    assert lifetime.ended()
