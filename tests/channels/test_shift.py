"""What a channel waits for is cut off when it is to stop."""

import asyncio

import pytest

from triagebot.channels.shift import Shift

pytestmark = pytest.mark.asyncio


async def test_what_is_waited_for_comes_back_and_what_it_raises_too() -> None:
    shift = Shift()
    assert await shift.wait_for(asyncio.sleep(0, "done")) == "done"
    with pytest.raises(TimeoutError):
        await shift.wait_for(asyncio.wait_for(asyncio.Event().wait(), 0.01))
    assert not shift.ended()


async def test_the_end_cuts_off_what_is_waited_for() -> None:
    shift = Shift()
    asyncio.get_running_loop().call_later(0.02, shift.end)
    with pytest.raises(asyncio.CancelledError):
        await shift.wait_for(asyncio.Event().wait())
    assert shift.ended()


async def test_a_pause_takes_its_time_or_ends_with_the_shift() -> None:
    shift, loop = Shift(), asyncio.get_running_loop()
    begun = loop.time()
    await shift.pause(0.05)
    assert loop.time() - begun >= 0.04
    assert not shift.ended()
    loop.call_later(0.02, shift.end)
    await asyncio.wait_for(shift.pause(60.0), 5.0)
    await asyncio.wait_for(shift.pause(60.0), 5.0)
    assert shift.ended()
