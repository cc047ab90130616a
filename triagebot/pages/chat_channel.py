"""The chat page as the delivery sees it: a message is handed to the pages that wait for it just now.

This file decides how long somebody waits, and how many may. A message that nobody waits for counts as
delivered: it is on the disk, where the page reads it (`store.said.said`) whenever somebody looks.
"""

import asyncio
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import Any

from triagebot.helping.seats import join_page
from triagebot.messages import Outgoing, Receipt

NAME = "page"

#: Seconds for which a request may wait for the next message: shorter than what proxies on the way put up with.
LONGEST = 25.0
#: So many requests wait in one conversation, where the first of them is answered when another one comes; and so many in
#: all, above which none waits.
MOST_BESIDE, MOST = 8, 4000


class Ear:
    """Somebody who waits in a conversation. `over` when there is to be no more waiting."""

    def __init__(self) -> None:
        self._called = asyncio.Event()
        self.over = False

    def call(self, *, over: bool = False) -> None:
        self.over = self.over or over
        self._called.set()

    def listen(self) -> None:
        """Counts only what comes from now on."""
        self._called.clear()

    async def wait(self, seconds: float) -> None:
        """Until something is said, or there is to be no more waiting, but not for longer than so many seconds."""
        if not self.over:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._called.wait(), seconds)


class Page:
    """The channel of the chat page. Used in the delivery's event loop only."""

    name = NAME
    edits, albums = False, True

    def __init__(self, address: str | None = None) -> None:
        """`address` is that of the pages, without a slash; None where people cannot reach them."""
        self._address = address
        self._ears: dict[str, list[Ear]] = {}
        self._count = 0
        self._closed = False

    def stand_at(self, root: str) -> None:
        """These pages are below `root`, such as /b/north, where people have no whole address of them."""
        self._address = self._address or root

    async def deliver(self, message: Outgoing) -> Receipt:
        for ear in self._ears.get(message.address["conversation"], ()):
            ear.call()
        return {}

    def deep_link(self, code: str) -> str:
        """A page on which somebody says a code with one press."""
        return join_page(self._address or "", code)

    def harmless_to_repeat(self, kind: str) -> bool:
        """Pages tell messages by their number."""
        return True

    @staticmethod
    def address(conversation: str) -> Mapping[str, Any]:
        """Where somebody is reached."""
        return {"conversation": conversation}

    @contextmanager
    def listening(self, conversation: str) -> Iterator[Ear]:
        """An ear for what is said from now on."""
        ear, beside = Ear(), self._ears.setdefault(conversation, [])
        if self._closed or self._count >= MOST:
            ear.call(over=True)
        elif len(beside) >= MOST_BESIDE:
            beside[0].call(over=True)
        beside.append(ear)
        self._count += 1
        try:
            yield ear
        finally:
            self._count -= 1
            beside.remove(ear)
            if not beside:
                self._ears.pop(conversation, None)

    def close(self) -> None:
        """Nobody waits from now on: to be called when the app stops, which would wait for them."""
        self._closed = True
        for ear in (ear for beside in self._ears.values() for ear in beside):
            ear.call(over=True)
