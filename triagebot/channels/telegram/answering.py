"""Presses, answered at once: what they do to a case takes its own way through the delivery.

Rules of this file: a press is answered before anything slow; an answer that could not be sent is tried a few times and
then left, since all that it does is to stop the wheel that turns on the button.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any

from telegram.error import BadRequest, Forbidden, TelegramError
from telegram.error import RetryAfter as Later

from triagebot.channels.telegram.client import TOO_OLD, Client, says, seconds, told
from triagebot.channels.telegram.limits import MOST_NOTICE
from triagebot.channels.telegram.profile import cut
from triagebot.channels.telegram.reading import Press
from triagebot.conversation import Guide

log = logging.getLogger(__name__)

#: Seconds before an answer is tried again.
PAUSES = (1.0, 3.0, 10.0, 30.0, 60.0, 120.0)


class Answers:
    """Used in one event loop only. `close` waits for what is under way."""

    def __init__(self, guide: Guide, client: Client) -> None:
        self._guide = guide
        self._client = client
        self._under_way: set[asyncio.Task[None]] = set()

    def press(self, press: Press) -> None:
        """Stops the wheel that turns on the button, and says what is to be said about the press."""
        self._begin(self._press(press))

    async def close(self, grace: float) -> None:
        if self._under_way:
            _, late = await asyncio.wait(self._under_way, timeout=grace)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)

    def _begin(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(work)
        self._under_way.add(task)
        task.add_done_callback(self._under_way.discard)

    async def _press(self, press: Press) -> None:
        texts = self._guide.language(press.language).texts
        notice = cut(texts(press.notice), MOST_NOTICE) if press.notice else None
        await _insist(lambda: self._client.answer_callback_query(press.id, notice))


async def _insist(call: Callable[[], Awaitable[object]]) -> None:
    """Does a request, and again after a while when it fails on the way."""
    for pause in (*PAUSES, None):
        try:
            await call()
        except Later as error:
            wait = seconds(error)
        except Forbidden:
            return
        except BadRequest as error:
            if not says(error, TOO_OLD):
                log.warning("telegram: the answer to a press was refused (%s)", told(error))
            return
        except TelegramError as error:
            if pause is None:
                log.warning("telegram: the answer to a press was given up (%s)", told(error))
                return
            wait = pause
        else:
            return
        await asyncio.sleep(wait)
