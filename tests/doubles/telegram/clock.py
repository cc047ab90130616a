"""The server's clock: real time, which a test may put forward so that a day passes at once."""

import time
from collections.abc import Callable


class Clock:
    """Seconds since the epoch; goes on by itself, and further when it is told to."""

    def __init__(self) -> None:
        self._start, self._began = time.time(), time.monotonic()
        self._skipped = 0.0
        self._listeners: list[Callable[[], None]] = []

    def now(self) -> float:
        return self._start + time.monotonic() - self._began + self._skipped

    def skip(self, seconds: float) -> None:
        """Puts the clock forward; whoever waits for a time looks again at once."""
        if seconds < 0:
            raise ValueError("the platform's clock does not go backwards")
        self._skipped += seconds
        for listener in self._listeners:
            listener()

    def on_skip(self, listener: Callable[[], None]) -> None:
        self._listeners.append(listener)
