"""The channels that are set up: messages come in by them until they are told to stop."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Coroutine, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from starlette.routing import Route

from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.serving.leased import Leased
from triagebot.settings import MatrixAccount, Settings

if TYPE_CHECKING:
    from triagebot.channels.matrix import Matrix
    from triagebot.channels.telegram import Telegram
    from triagebot.store import Store

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Line:
    """A channel that is set up: `receive` lets messages come in until `stop`; `routes` are what it needs of the web.
    `fetches`: messages are fetched, and not brought to the web server."""

    channel: "Telegram | Matrix"
    receive: Callable[[], Coroutine[Any, Any, None]]
    said: str
    routes: tuple[Route, ...] = ()
    fetches: bool = True


def matrix_line(
    settings: Settings, account: MatrixAccount, guide: Guide, delivery: Delivery, store: "Store", language: str
) -> Line:
    from triagebot.channels.matrix import connected

    matrix = connected(account, guide, delivery, store, language, settings.matrix_staff_room or "")
    return Line(matrix, matrix.run, "matrix: looking for messages")


def telegram_line(settings: Settings, token: str, guide: Guide, delivery: Delivery, language: str) -> Line:
    """Messages are fetched, or brought to the webhook."""
    from triagebot.channels.telegram import Telegram, client
    from triagebot.channels.telegram.webhook import route, secret_from

    telegram = Telegram(
        guide, delivery, client(token, settings.telegram_server), language, settings.telegram_staff_room or 0
    )
    if settings.telegram_webhook is None:
        return Line(telegram, telegram.poll, "telegram: fetching messages")
    address, secret = settings.telegram_webhook, settings.telegram_webhook_secret or secret_from(token)
    path = urlsplit(address).path
    return Line(
        telegram,
        lambda: telegram.stay_hooked(address, secret),
        f"telegram: listening for messages at {path}",
        (route(telegram, path, secret),),
        fetches=False,
    )


async def opened(delivery: Delivery, lines: Sequence[Line]) -> None:
    """Has these channels served; where several processes may serve them, whenever this one has their leases."""
    for line in lines:
        if delivery.lessee is not None:
            delivery.lessee.add(line.channel.name, fetches=line.fetches)
        else:
            await line.channel.open()
            await delivery.serve(line.channel)


@asynccontextmanager
async def receiving(delivery: Delivery, lines: Sequence[Line]) -> AsyncIterator[None]:
    """Within it messages come in by all of these; they are told to stop together."""
    lessee = delivery.lessee
    if lessee is not None:
        leased = [Leased(delivery, lessee, line.channel, partial(_receive, line)) for line in lines]
        keeping = [asyncio.create_task(each.keep()) for each in leased]
    else:
        coming = [asyncio.create_task(_receive(line)) for line in lines]
    try:
        yield
    finally:
        for line in lines:
            line.channel.stop()
        if lessee is not None:
            for task in keeping:
                task.cancel()
            await asyncio.gather(*keeping, return_exceptions=True)
            coming = [each.running for each in leased if each.running is not None]
        await asyncio.gather(*coming)


async def _receive(line: Line) -> None:
    log.info("%s", line.said)
    await line.receive()
