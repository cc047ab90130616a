"""What every channel's polling loop needs: waiting that a stop cuts short, growing pauses, and a log that does not
repeat itself.

Rules of this file: pauses grow as `rates.pause_before` says, up to LONGEST_PAUSE; the same trouble is logged once in
SAID_AGAIN seconds, and at most MOST_SAID different ones in that time.
"""

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

from triagebot.rates import pause_before

T = TypeVar("T")

#: The first and the longest pause (s) after a request that failed.
FIRST_PAUSE, LONGEST_PAUSE = 0.5, 30.0

#: Seconds before the same trouble is logged again, and how many different ones are logged in that time.
SAID_AGAIN, MOST_SAID = 600.0, 200


class Lifetime:
    """One channel's time at work: it waits for one thing at a time until it is told to stop. For one event loop."""

    def __init__(self) -> None:
        self._end = asyncio.Event()
        self._waiting: asyncio.Future[Any] | None = None

    def ended(self) -> bool:
        return self._end.is_set()

    def end(self) -> None:
        """Stops the channel: what it is waiting for raises CancelledError."""
        self._end.set()
        if self._waiting is not None:
            self._waiting.cancel()

    async def wait_for(self, work: Awaitable[T]) -> T:
        """Waits for something that `end` may cut off."""
        waiting: asyncio.Future[T] = asyncio.ensure_future(work)
        self._waiting = waiting
        try:
            return await waiting
        finally:
            self._waiting = None

    async def pause(self, length: float) -> None:
        """Waits for so many seconds, or until the end."""
        try:
            await asyncio.wait_for(self._end.wait(), length)
        except TimeoutError:
            return


class RecentlyLogged:
    """What was logged lately."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._told: dict[str, float] = {}

    def due(self, what: str) -> bool:
        """Whether it is time to log this; if so, it counts as logged."""
        now = self._clock()
        self._told = {each: at for each, at in self._told.items() if now - at <= SAID_AGAIN}
        if what in self._told or len(self._told) >= MOST_SAID:
            return False
        self._told[what] = now
        return True


class Failures:
    """A channel's failed attempts in a row, logged in that channel's own log, and when one last succeeded."""

    def __init__(self, channel: str, log: logging.Logger, clock: Callable[[], float] = time.monotonic) -> None:
        self._channel = channel
        self._log = log
        self._clock = clock
        self._count = 0
        self._told = RecentlyLogged(clock)
        self._spoke = False
        self._reached: float | None = None

    @property
    def reached(self) -> float | None:
        """Seconds since an attempt last succeeded; None if none has."""
        return None if self._reached is None else self._clock() - self._reached

    def next(self, what: str, at_least: float = 0.0) -> float:
        """Counts one more failure, described as `what`; gives the seconds until the next attempt."""
        self._count += 1
        if self._told.due(what):
            self._spoke = True
            self._log.warning("%s: %s; tried again until it works", self._channel, what)
        return max(at_least, pause_before(self._count, LONGEST_PAUSE, FIRST_PAUSE))

    def over(self) -> None:
        """An attempt succeeded."""
        self._reached = self._clock()
        if self._spoke:
            self._log.warning("%s: works again, after %d failed attempts", self._channel, self._count)
        self._count, self._spoke = 0, False
