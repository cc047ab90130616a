"""The connections of the pages: how many there may be, and how long one may wait for a request.

Rules of this file:
- who opens a connection asks for something within `Limits.idle` seconds, and goes on asking within as many;
- a request has come whole within `Limits.slow` seconds;
- of more connections than `Limits.most`, the one that has idled longest is closed; where none idles, the new one is;
- where the process has no file handle left, that is one line in the log, however often the system says so.
"""

import asyncio
import errno
import logging
import resource
from collections.abc import Callable
from dataclasses import dataclass, replace
from time import monotonic
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol, RequestResponseCycle

log = logging.getLogger(__name__)

#: The system says so once a second while it lasts; the log says it once in so many seconds.
SAID_AGAIN = 600.0
_NONE_LEFT = frozenset({errno.EMFILE, errno.ENFILE})


@dataclass(frozen=True, slots=True)
class Limits:
    """Judgements: most shops never see fifty connections at once, and a phone on a bad line sends a photo of 10 MB in a
    minute. `look` is how often (s) the connections are gone through."""

    most: int = 400
    idle: float = 20.0
    slow: float = 90.0
    look: float = 5.0


def limits_here() -> Limits:
    """Those of this process: half of its file handles are left for everything else."""
    handles, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    usual = Limits()
    return usual if handles == resource.RLIM_INFINITY else replace(usual, most=min(usual.most, handles // 2))


class Connections:
    """All that are open. For one event loop."""

    def __init__(self, limits: Limits | None = None) -> None:
        self._limits = limits or limits_here()
        self._open: dict[Connection, None] = {}  # the longest open first
        self._timer: asyncio.TimerHandle | None = None

    def __len__(self) -> int:
        return len(self._open)

    def protocol(self, **given: Any) -> "Connection":
        """A connection, as the server asks for one."""
        return Connection(self, **given)

    def opened(self, connection: "Connection") -> None:
        if len(self._open) >= self._limits.most:
            idle = [each for each in self._open if each.idles]
            longest = min(idle, key=lambda each: each.since, default=connection)
            self._close(longest)
            if longest is connection:
                return
        self._open[connection] = None
        if self._timer is None:
            self._timer = asyncio.get_running_loop().call_later(self._limits.look, self._look)

    def lost(self, connection: "Connection") -> None:
        self._open.pop(connection, None)

    def _look(self) -> None:
        """Closes what has waited too long."""
        now = monotonic()
        for each in list(self._open):
            if now - each.since >= (self._limits.idle if each.idles else self._limits.slow) and each.waits:
                self._close(each)
        again = asyncio.get_running_loop().call_later
        self._timer = again(self._limits.look, self._look) if self._open else None

    def _close(self, connection: "Connection") -> None:
        self.lost(connection)
        connection.transport.abort()


class Connection(H11Protocol):
    """One connection: `since` when it has been waiting, for a request or for the rest of one."""

    def __init__(self, all_of_them: Connections, **given: Any) -> None:
        super().__init__(**given)
        self._all_of_them = all_of_them
        self.since = monotonic()

    @property
    def idles(self) -> bool:
        """Whether no request is under way; the beginning of its first lines is none yet."""
        cycle: RequestResponseCycle | None = self.cycle  # there is none before the first request
        return cycle is None or cycle.response_complete

    @property
    def waits(self) -> bool:
        """Whether it is the other side's turn."""
        return self.idles or self.cycle.more_body

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._all_of_them.opened(self)

    def connection_lost(self, exc: Exception | None) -> None:
        super().connection_lost(exc)
        self._all_of_them.lost(self)

    def on_response_complete(self) -> None:
        self.since = monotonic()
        super().on_response_complete()


class HandlesLogged:
    """An event loop's handler of what goes wrong in it, which says once that there are no file handles left."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._due = 0.0

    def __call__(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        error = context.get("exception")
        if not (isinstance(error, OSError) and error.errno in _NONE_LEFT):
            loop.default_exception_handler(context)
        elif (now := self._clock()) >= self._due:
            self._due = now + SAID_AGAIN
            log.error("no file handles are left: nobody new is let in; raise LimitNOFILE, or see what holds them open")
