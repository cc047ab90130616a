"""The time for which a channel is at work, until it is told to stop: what it waits for meanwhile is cut off then."""

import asyncio
from collections.abc import Awaitable
from typing import Any, TypeVar

T = TypeVar("T")


class Shift:
    """One channel's, which waits for one thing at a time. Used in one event loop only."""

    def __init__(self) -> None:
        self._end = asyncio.Event()
        self._waiting: asyncio.Future[Any] | None = None

    def ended(self) -> bool:
        return self._end.is_set()

    def end(self) -> None:
        """Whatever is waited for raises CancelledError."""
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
        """So many seconds, or until the end."""
        try:
            await asyncio.wait_for(self._end.wait(), length)
        except TimeoutError:
            return
