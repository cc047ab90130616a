"""Waking what sleeps: at once at the start, at the moment, when something else comes to sleep, after a fault."""

import asyncio
from collections.abc import Awaitable, Callable
from datetime import datetime, timedelta

import pytest

from tests.delivery.office import HANGS
from triagebot.delivery import alarm
from triagebot.delivery.alarm import Alarm
from triagebot.testing import Clock


async def until(holds: Callable[[], bool]) -> None:
    async with asyncio.timeout(HANGS):
        while not holds():
            await asyncio.sleep(0.001)


class Sleeping:
    """What sleeps, and how often it was looked at; it fails as often as told."""

    def __init__(self, clock: Clock) -> None:
        self.clock, self.moments, self.looked, self.fails = clock, list[datetime](), 0, 0

    async def wake_due(self) -> datetime | None:
        self.looked += 1
        if self.fails:
            self.fails -= 1
            raise OSError("the disk is full")
        self.moments = [moment for moment in self.moments if moment > self.clock()]
        return min(self.moments, default=None)


def run(work: Callable[[Clock, Sleeping, Alarm], Awaitable[None]]) -> None:
    async def go() -> None:
        clock = Clock()
        sleeping = Sleeping(clock)
        bell = Alarm(sleeping.wake_due, clock)
        try:
            await work(clock, sleeping, bell)
        finally:
            await bell.close()

    asyncio.run(go())


def test_what_is_due_wakes_at_the_start() -> None:
    async def work(clock: Clock, sleeping: Sleeping, bell: Alarm) -> None:
        sleeping.moments = [clock() - timedelta(hours=1)]
        await bell.open()
        assert sleeping.moments == []

    run(work)


def test_it_wakes_at_its_moment_and_nothing_is_looked_at_before() -> None:
    async def work(clock: Clock, sleeping: Sleeping, bell: Alarm) -> None:
        await bell.open()
        await asyncio.sleep(0.01)
        assert sleeping.looked == 1, "nothing sleeps, so nothing is looked at"
        sleeping.moments = [clock() + timedelta(seconds=0.02)]
        bell.reset()
        await until(lambda: sleeping.looked == 2)
        clock.wait(seconds=0.02)
        await until(lambda: sleeping.moments == [])

    run(work)


def test_after_a_fault_it_tries_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarm, "AFTER_A_FAULT", 0.01)

    async def work(clock: Clock, sleeping: Sleeping, bell: Alarm) -> None:
        await bell.open()
        sleeping.fails = 2
        bell.reset()
        await until(lambda: sleeping.looked >= 4)

    run(work)


def test_a_far_moment_is_looked_at_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine that slept does not count the seconds meanwhile."""
    monkeypatch.setattr(alarm, "LOOK", 0.01)

    async def work(clock: Clock, sleeping: Sleeping, bell: Alarm) -> None:
        sleeping.moments = [clock() + timedelta(days=3)]
        await bell.open()
        clock.wait(days=4)
        await until(lambda: sleeping.moments == [])

    run(work)
