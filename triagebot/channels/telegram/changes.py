"""The change of a message that was answered: what was answered is shown in it, and its buttons go.

Rules of this file:
- no message waits for a change: it is made beside what is sent, and only takes room that no message takes;
- a change for which there is no room soon, or that fails again and again, is left out, and so is one that a stop or a
  crash cuts off: somebody who presses a button that should have gone is told that it came too late.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from typing import Any

from telegram.error import BadRequest, NetworkError, TelegramError
from telegram.error import RetryAfter as TelegramRetryAfter

from triagebot.channels.telegram.bot_api import NOTHING_TO_CHANGE, redacted, says, seconds

log = logging.getLogger(__name__)

#: Seconds before a change that failed is tried again; where the platform wants a longer pause, it is left out.
PAUSES = (1.0, 3.0)

#: Makes one change. Raises TelegramError.
Change = Callable[[], Awaitable[Any]]


class Changes:
    """Those of one bot, under way side by side. `has_room` waits a little for room, and tells whether there is any.
    Used in one event loop only."""

    def __init__(self, has_room: Callable[[], Awaitable[bool]]) -> None:
        self._has_room = has_room
        self._under_way: set[asyncio.Task[None]] = set()

    def begin(self, change: Change) -> None:
        task = asyncio.create_task(self._make(change))
        self._under_way.add(task)
        task.add_done_callback(self._under_way.discard)

    async def idle(self) -> None:
        """Until none is under way."""
        while self._under_way:
            await asyncio.wait(self._under_way)

    async def close(self, grace: float) -> None:
        """Gives those under way so many seconds."""
        if self._under_way:
            _, late = await asyncio.wait(self._under_way, timeout=grace)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)

    async def _make(self, change: Change) -> None:
        for pause in (*PAUSES, None):
            if not await self._has_room():
                return
            try:
                await change()
            except BadRequest as error:
                if not says(error, NOTHING_TO_CHANGE):
                    log.info("telegram: the change of an answered message was refused (%s)", redacted(error))
                return
            except (NetworkError, TelegramRetryAfter) as error:
                wanted = seconds(error) if isinstance(error, TelegramRetryAfter) else 0.0
                if pause is None or wanted > pause:
                    return
                await asyncio.sleep(pause)
            except TelegramError:
                return  # nobody is reached there any more: the next message finds out
            else:
                return
