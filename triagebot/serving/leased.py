"""A channel that several processes may serve, one at a time: this one does whenever it has the lease."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

from triagebot.delivery import Delivery
from triagebot.delivery.leases import LOOK, Lessee
from triagebot.errors import StoreError

if TYPE_CHECKING:
    from triagebot.channels.matrix import Matrix
    from triagebot.channels.telegram import Telegram

log = logging.getLogger(__name__)


class Leased:
    """`receive` lets messages come in until the channel is stopped; `running` is that, while this process serves it."""

    def __init__(
        self, delivery: Delivery, lessee: Lessee, channel: "Telegram | Matrix", receive: Callable[[], Awaitable[None]]
    ) -> None:
        self._delivery, self._lessee, self._channel, self._receive = delivery, lessee, channel, receive
        self.running: asyncio.Task[None] | None = None

    async def keep(self) -> None:
        """Looks again and again whether this process has the lease, until it is cancelled."""
        waits, name = False, self._channel.name
        while True:
            held = await self._held()
            if self.running is not None and (not held or self.running.done()):
                await self._end(self.running)
            elif held and self.running is None:
                self.running, waits = asyncio.create_task(self._serve()), False
            elif not held and not waits:
                log.info("%s: served by another process; this one takes over when that ends", name)
                waits = True
            await asyncio.sleep(LOOK)

    async def _held(self) -> bool:
        try:
            return await self._lessee.look(self._channel.name)
        except StoreError as error:
            log.warning("%s: its lease cannot be renewed: %s", self._channel.name, error)
            return self.running is not None and self._lessee.good(self._channel.name)

    async def _serve(self) -> None:
        await self._channel.open()
        await self._delivery.serve(self._channel)
        await self._receive()

    async def _end(self, running: "asyncio.Task[None]") -> None:
        """Another process has it, or something went wrong: then it is begun anew under a new lease."""
        name = self._channel.name
        self._lessee.lose(name)
        running.cancel()
        (ended,) = await asyncio.gather(running, return_exceptions=True)
        why = "" if ended is None or isinstance(ended, asyncio.CancelledError) else f" ({ended})"
        log.warning("%s: not served by this process any more%s", name, why)
        self._delivery.shut(name)
        self.running = None
