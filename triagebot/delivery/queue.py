"""Turns that wait for any process: where one has too much to do, it takes messages in without their turns, and every
process on the same database takes some of these.

- What waits is found by the head of each conversation, so a flood in one costs the others nothing.
- A conversation is locked before its turn (`store.beside`). One that another process holds is passed over.
- As many turns share a transaction as the writer has time for; if one of them fails, each is taken again by itself.
- A message on which a turn failed already is not taken here: it has its pauses (`Delivery`).
"""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from triagebot.delivery.counts import place_of
from triagebot.delivery.inbox import Inbox, Received
from triagebot.delivery.writer import Held
from triagebot.errors import StoreError
from triagebot.messages import Incoming, Pressed, Said
from triagebot.store.post import Post
from triagebot.store.waiting_turns import heads

if TYPE_CHECKING:
    from triagebot.store import Store, Transaction

log = logging.getLogger(__name__)

#: Seconds between two looks for what waits; so many conversations are taken at once.
LOOK, MOST = 0.5, 32
#: Seconds until another look after a fault.
AFTER_A_FAULT = 2.0
#: Where so many conversations wait in this process, more is left to all.
BUSY = 16


def can_wait(incoming: Incoming) -> bool:
    """Whether a message may be taken in without its turn: it is about its own conversation, and nothing else."""
    return incoming.room is None and incoming.beside is None and isinstance(incoming.content, Said | Pressed)


def put_down(inbox: Inbox, incoming: Incoming, tx: "Transaction") -> Received:
    """Receives a message whose turn any process takes."""
    return inbox.wait(incoming, tx.lookup_hash(incoming.person), Post(tx), tx)


class Queue:
    """`take` has the turn taken on the oldest message of a conversation, and gives whether more wait there; `failed` is
    told of one on which that failed. `send` looks for what other processes have put out."""

    def __init__(
        self,
        store: "Store",
        take: Callable[[str], Awaitable[bool]],
        failed: Callable[[str], object],
        send: Callable[[], Awaitable[None]],
    ) -> None:
        self._store, self._take, self._failed, self._send = store, take, failed, send
        self._woken = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    def open(self) -> None:
        self._task = asyncio.create_task(self._run())

    def wake(self) -> None:
        """Something waits."""
        self._woken.set()

    async def close(self) -> None:
        if self._task is not None:
            self._task.cancel()
            with suppress(asyncio.CancelledError):
                await self._task

    async def _run(self) -> None:
        while True:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._woken.wait(), LOOK)
            self._woken.clear()
            try:
                while await self._round():
                    pass
                await self._send()
            except StoreError as error:
                log.warning("queue: cannot look for what waits: %s", error)
                await asyncio.sleep(AFTER_A_FAULT)

    async def _round(self) -> bool:
        """Takes the turns of some conversations; gives whether it took any."""
        waiting = list(await asyncio.to_thread(self._waiting))
        random.shuffle(waiting)  # several processes look at the same time
        taken = await asyncio.gather(*map(self._turns, waiting[:MOST]))
        return any(taken)

    def _waiting(self) -> tuple[str, ...]:
        with self._store.read() as view:
            return heads(view, 4 * MOST)

    async def _turns(self, conversation: str) -> bool:
        try:
            await self._take(conversation)
        except Held:
            return False
        except Exception as error:
            log.warning("queue: a turn failed: %s", place_of(error))
            self._failed(conversation)
            return False
        return True
