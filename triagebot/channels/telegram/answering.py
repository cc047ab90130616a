"""What is answered beside the conversation: presses at once, and commands that take no turn.

Rules of this file: a press is answered before anything slow; nothing here changes a case; an answer that could not be
sent is tried a few times and then left, since whoever asked can ask again.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Coroutine
from html import escape
from typing import TYPE_CHECKING, Any

from babel import Locale
from telegram.error import BadRequest, Forbidden, TelegramError
from telegram.error import RetryAfter as Later

from triagebot.channels.telegram.buttons import Button, Rows, pack
from triagebot.channels.telegram.client import TOO_OLD, Client, says, seconds, told
from triagebot.channels.telegram.limits import MOST_NOTICE
from triagebot.channels.telegram.profile import cut
from triagebot.channels.telegram.reading import NAME, Aside, Press
from triagebot.channels.telegram.sending import Post
from triagebot.conversation import Guide

if TYPE_CHECKING:
    from triagebot.store import Store

log = logging.getLogger(__name__)

#: Seconds before an answer is tried again.
PAUSES = (1.0, 3.0, 10.0, 30.0, 60.0, 120.0)


class Answers:
    """Used in one event loop only. `close` waits for what is under way."""

    def __init__(self, guide: Guide, store: "Store", client: Client, post: Post) -> None:
        self._guide = guide
        self._store = store
        self._client = client
        self._post = post
        self._under_way: set[asyncio.Task[None]] = set()

    def press(self, press: Press) -> None:
        """Stops the wheel that turns on the button, and says what is to be said about the press."""
        self._begin(self._press(press))

    def aside(self, aside: Aside) -> None:
        self._begin(self._aside(aside))

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
        if press.settled is not None:
            chat, message = press.settled
            await _insist(lambda: self._post.settle(chat, message))

    async def _aside(self, aside: Aside) -> None:
        try:
            text, rows = await self._said(aside)
        except Exception as error:
            log.error("telegram: /%s could not be answered (%s)", aside.kind, type(error).__name__)
            return
        await _insist(lambda: self._post.say(aside.address, escape(text, quote=False), rows))

    async def _said(self, aside: Aside) -> tuple[str, Rows]:
        texts = self._guide.language(aside.language).texts
        owner, thread = int(aside.address.get("person", 0)), int(aside.address.get("thread", 0) or 0)

        def carried(kind: Any, word: str) -> str:
            return pack(Button(kind, word, owner=owner, thread=thread))

        match aside.kind:
            case "privacy":
                contact = self._guide.shop.contact.person
                return texts("telegram-privacy", shop=self._guide.shop.name, contact=contact), ()
            case "forget":
                rows = tuple(((texts(f"telegram-forget-{word}"), carried("f", word)),) for word in ("yes", "no"))
                return texts("telegram-forget"), rows
            case "kept":
                return texts("telegram-kept"), ()
            case "language":
                names = {code: Locale.parse(code, sep="-").get_display_name() or code for code in self._guide.spoken}
                return texts("telegram-language"), tuple(((names[code], carried("l", code)),) for code in names)
            case "case":
                code = await asyncio.to_thread(self._code, aside.conversation)
                return (texts("telegram-case", code=code) if code else texts("telegram-no-case")), ()

    def _code(self, conversation: str) -> str | None:
        with self._store.read() as view:
            standing = view.standing(view.mark(f"{NAME}:{conversation}"))
            case = view.case(standing[0]) if standing is not None else None
        return case.code if case is not None else None


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
                log.warning("telegram: an answer beside the conversation was refused (%s)", told(error))
            return
        except TelegramError as error:
            if pause is None:
                log.warning("telegram: an answer beside the conversation was given up (%s)", told(error))
                return
            wait = pause
        else:
            return
        await asyncio.sleep(wait)
