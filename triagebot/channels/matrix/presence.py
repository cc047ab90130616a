"""Signs of life in a room: that something was read, and that an answer is being written.

Rules of this file: nobody waits for a sign, and what comes of it does not matter; signs give way to answers, which are
out within a blink as a rule: "is typing" is shown only where it takes longer, and taken away then.
"""

import asyncio
from collections.abc import Coroutine
from typing import Any, Protocol

#: Seconds before "is typing" is shown, and before something is marked as read.
BLINK, READ_AFTER = 0.4, 0.2


class Signs(Protocol):
    """What a connection offers; none of it raises."""

    async def typing(self, room: str, on: bool) -> None: ...

    async def read(self, room: str, event: str) -> None: ...


class Presence:
    """Used in one event loop only. `close` ends what is under way."""

    def __init__(self, signs: Signs) -> None:
        self._signs = signs
        self._typing: dict[str, asyncio.Task[None]] = {}
        self._under_way: set[asyncio.Task[None]] = set()

    def read(self, room: str, event: str) -> None:
        self.aside(self._read(room, event))

    def begin(self, room: str) -> None:
        """An answer is on its way."""
        if room not in self._typing:
            self._typing[room] = asyncio.create_task(self._type(room))

    def end(self, room: str) -> None:
        """It is out, or there is none."""
        typing = self._typing.pop(room, None)
        if typing is None:
            return
        if typing.done():
            self.aside(self._signs.typing(room, False))
        else:
            typing.cancel()

    async def close(self) -> None:
        tasks = [*self._typing.values(), *self._under_way]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def aside(self, work: Coroutine[Any, Any, None]) -> None:
        """Does something for which nobody waits."""
        task = asyncio.create_task(work)
        self._under_way.add(task)
        task.add_done_callback(self._under_way.discard)

    async def _read(self, room: str, event: str) -> None:
        await asyncio.sleep(READ_AFTER)
        await self._signs.read(room, event)

    async def _type(self, room: str) -> None:
        await asyncio.sleep(BLINK)
        await self._signs.typing(room, True)
