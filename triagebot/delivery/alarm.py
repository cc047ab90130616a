"""Wakes what sleeps until a moment, at that moment, for as long as a delivery is open."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from contextlib import suppress
from datetime import datetime

from triagebot.delivery.counts import place_of

log = logging.getLogger(__name__)

#: Seconds until the clock is read again, since clocks are set and machines sleep; and until another try after a fault.
LOOK, AFTER_A_FAULT = 600.0, 30.0


class Alarm:
    """`wake_due` wakes all whose moment has come, and gives the next such moment, None where nothing sleeps."""

    def __init__(self, wake_due: Callable[[], Awaitable[datetime | None]], clock: Callable[[], datetime]) -> None:
        self._wake_due, self._clock = wake_due, clock
        self._set = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def open(self) -> None:
        """Wakes what is due, now and from now on. Raises StoreError when the database cannot be written."""
        due = await self._wake_due()
        self._task = asyncio.create_task(self._run(due))

    def reset(self) -> None:
        """Something else sleeps from now on, and may have to wake first."""
        self._set.set()

    async def close(self) -> None:
        if self._task is not None:
            self._task.cancel()
            with suppress(asyncio.CancelledError):
                await self._task

    async def _run(self, due: datetime | None) -> None:
        pause = self._until(due)
        while True:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._set.wait(), pause)
            self._set.clear()
            try:
                pause = self._until(await self._wake_due())
            except Exception as error:
                log.warning("what sleeps cannot be woken now: %s", place_of(error))
                pause = AFTER_A_FAULT

    def _until(self, due: datetime | None) -> float | None:
        """Seconds; None for ever, until something sleeps."""
        return None if due is None else min(max((due - self._clock()).total_seconds(), 0.0), LOOK)
