"""Read receipts and typing notices.

Nobody waits for one, and a failure does not matter. They give way to answers, since a homeserver does one thing at a
time: "is typing" is shown only where an answer takes longer than usual, and taken away with the answer.
"""

import asyncio
from collections.abc import Coroutine
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from triagebot.channels.matrix.connection import Connection

#: Seconds before "is typing" is shown, and before something is marked as read.
TYPING_AFTER, READ_AFTER = 0.4, 0.2


class Presence:
    """Used in one event loop only. `close` ends what is under way."""

    def __init__(self, connection: "Connection") -> None:
        self._connection = connection
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
            self.aside(self._connection.typing(room, False))
        else:
            typing.cancel()

    async def close(self) -> None:
        tasks = [*self._typing.values(), *self._under_way]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def aside(self, work: Coroutine[Any, Any, None]) -> None:
        """Runs something for which nobody waits."""
        task = asyncio.create_task(work)
        self._under_way.add(task)
        task.add_done_callback(self._under_way.discard)

    async def _read(self, room: str, event: str) -> None:
        await asyncio.sleep(READ_AFTER)
        await self._connection.read(room, event)

    async def _type(self, room: str) -> None:
        await asyncio.sleep(TYPING_AFTER)
        await self._connection.typing(room, True)
