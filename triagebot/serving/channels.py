"""The channels that are set up: messages come in by them until they are told to stop."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Coroutine, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from starlette.routing import Route

from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.settings import MatrixAccount, Settings

if TYPE_CHECKING:
    from triagebot.channels.matrix import Matrix
    from triagebot.channels.telegram import Telegram
    from triagebot.store import Store

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Line:
    """A channel that is set up: `receive` lets messages come in until `stop`; `routes` are what it needs of the web."""

    channel: "Telegram | Matrix"
    receive: Callable[[], Coroutine[Any, Any, None]]
    said: str
    routes: tuple[Route, ...] = ()


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
    )


@asynccontextmanager
async def receiving(lines: Sequence[Line]) -> AsyncIterator[None]:
    """Within it messages come in by all of these; they are told to stop together."""
    coming = []
    for line in lines:
        coming.append(asyncio.create_task(line.receive()))
        log.info("%s", line.said)
    try:
        yield
    finally:
        for line in lines:
            line.channel.stop()
        await asyncio.gather(*coming)
