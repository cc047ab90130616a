"""What goes wrong again and again while a channel asks its platform: how long to wait, and how often to say it.

Decided here and nowhere else: pauses grow from FIRST_PAUSE to LONGEST_PAUSE, and the same trouble is told once in
SAID_AGAIN seconds.
"""

import logging
import math
import time

#: The first pause (s) after a request that failed, its growth, and the longest pause.
FIRST_PAUSE, GROWTH, LONGEST_PAUSE = 0.5, 2.0, 30.0

#: Seconds before the same trouble is told again.
SAID_AGAIN = 600.0


class Failures:
    """Those of one channel, in a row, told in its own log."""

    def __init__(self, channel: str, log: logging.Logger) -> None:
        self._channel = channel
        self._log = log
        self._count = 0
        self._told: dict[str, float] = {}
        self._spoke = False

    def next(self, what: str, at_least: float = 0.0) -> float:
        """One more, of which is said `what` it is; gives the seconds until the next attempt."""
        self._count += 1
        now = time.monotonic()
        if now - self._told.get(what, -math.inf) > SAID_AGAIN:
            self._told = {what: now}
            self._spoke = True
            self._log.warning("%s: %s; tried again until it works", self._channel, what)
        return max(at_least, min(LONGEST_PAUSE, FIRST_PAUSE * GROWTH ** min(self._count - 1, 20)))

    def over(self) -> None:
        """It works."""
        if self._spoke:
            self._log.warning("%s: works again, after %d failed attempts", self._channel, self._count)
        self._count, self._spoke = 0, False
