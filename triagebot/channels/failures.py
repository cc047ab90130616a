"""What goes wrong again and again while a channel asks its platform: how long to wait, and how often to say it.

Decided here and nowhere else: pauses grow from FIRST_PAUSE to LONGEST_PAUSE, and the same trouble is told once in
SAID_AGAIN seconds, of at most MOST_SAID that differ.
"""

import logging
import time
from collections.abc import Callable

#: The first pause (s) after a request that failed, its growth, and the longest pause.
FIRST_PAUSE, GROWTH, LONGEST_PAUSE = 0.5, 2.0, 30.0

#: Seconds before the same is told again, and how much that differs is told in that time.
SAID_AGAIN, MOST_SAID = 600.0, 200


class Told:
    """What was told lately."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._told: dict[str, float] = {}

    def due(self, what: str) -> bool:
        """Whether it is time to tell this, which counts as told then."""
        now = self._clock()
        self._told = {each: at for each, at in self._told.items() if now - at <= SAID_AGAIN}
        if what in self._told or len(self._told) >= MOST_SAID:
            return False
        self._told[what] = now
        return True


class Failures:
    """Those of one channel, in a row, told in its own log."""

    def __init__(self, channel: str, log: logging.Logger, clock: Callable[[], float] = time.monotonic) -> None:
        self._channel = channel
        self._log = log
        self._count = 0
        self._told = Told(clock)
        self._spoke = False

    def next(self, what: str, at_least: float = 0.0) -> float:
        """One more, of which is said `what` it is; gives the seconds until the next attempt."""
        self._count += 1
        if self._told.due(what):
            self._spoke = True
            self._log.warning("%s: %s; tried again until it works", self._channel, what)
        return max(at_least, min(LONGEST_PAUSE, FIRST_PAUSE * GROWTH ** min(self._count - 1, 20)))

    def over(self) -> None:
        """It works."""
        if self._spoke:
            self._log.warning("%s: works again, after %d failed attempts", self._channel, self._count)
        self._count, self._spoke = 0, False
