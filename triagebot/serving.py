"""Runs every channel that is set up, until the process is told to stop; and tells beforehand what is missing.

Rules of this file: what is being fetched when the stop comes is taken in to its end, what is being sent gets a few
seconds, and all the rest waits on the disk for the next start.
"""

import asyncio
import logging
import signal
import socket
import sys
from collections.abc import Iterator
from contextlib import asynccontextmanager, contextmanager
from datetime import timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import uvicorn
from starlette.applications import Starlette
from telegram.error import InvalidToken, TelegramError

from triagebot.channels.telegram import Telegram, client
from triagebot.channels.telegram.client import told
from triagebot.channels.telegram.webhook import route, secret_from
from triagebot.conversation import Guide
from triagebot.desk import Desk
from triagebot.errors import SettingsError, StoreError
from triagebot.settings import Settings

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from triagebot.store import Store

log = logging.getLogger(__name__)

NOTHING_SET_UP = "no channel is set up: set TRIAGEBOT_TELEGRAM_TOKEN or TRIAGEBOT_TELEGRAM_TOKEN_FILE"
#: Seconds between tidyings, and how long is kept what was done and sent: longer than any platform sends it again.
TIDY_EVERY, KEPT = 3600.0, timedelta(days=7)
#: Loggers of libraries that tell at length what is of no use here, or what people wrote.
_TALKATIVE = ("alembic", "transitions", "uvicorn", "fontTools", "asyncio")


def log_to(stream: Any = sys.stderr) -> None:
    """Logs in lines: time, weight, what. Libraries only speak when something is wrong."""
    logging.basicConfig(stream=stream, level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    for name in _TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)


async def serve(settings: Settings, guide: Guide, store: "Store", language: str) -> None:
    """Runs until SIGTERM or SIGINT. Raises SettingsError when no channel is set up, StoreError when the desk is
    staffed already."""
    token = settings.token_for_telegram()
    if token is None:
        raise SettingsError(NOTHING_SET_UP)
    stopped, desk = asyncio.Event(), Desk(guide, store)
    telegram = Telegram(guide, desk, client(token, settings.telegram_server), language)
    way = _webhook if settings.telegram_webhook else _polling
    with _signals(stopped):
        try:
            async with desk:
                await telegram.open()
                await desk.serve(telegram)
                tidying = asyncio.create_task(_tidy(desk))
                async with way(settings, telegram, token):
                    await stopped.wait()
                    log.info("stopping")
                tidying.cancel()
        finally:
            await telegram.close()
    log.info("stopped; what waits is on the disk")


async def _tidy(desk: Desk) -> None:
    """Now and then deletes what is over and done with."""
    while True:
        await asyncio.sleep(TIDY_EVERY)
        try:
            log.info("tidied: %d rows", await desk.tidy(KEPT))
        except StoreError as error:
            log.warning("cannot tidy up now: %s", error)


@contextmanager
def _signals(stopped: asyncio.Event) -> Iterator[None]:
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stopped.set)
    try:
        yield
    finally:
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.remove_signal_handler(number)


@asynccontextmanager
async def _polling(_settings: Settings, telegram: Telegram, _token: str) -> "AsyncIterator[None]":
    fetching = asyncio.create_task(telegram.poll())
    log.info("telegram: fetching messages")
    try:
        yield
    finally:
        telegram.stop()
        await fetching


@asynccontextmanager
async def _webhook(settings: Settings, telegram: Telegram, token: str) -> "AsyncIterator[None]":
    assert settings.telegram_webhook is not None
    secret = settings.telegram_webhook_secret or secret_from(token)
    path = urlsplit(settings.telegram_webhook).path
    with _listening(settings.telegram_webhook_port) as door:
        listener = _Listener(Starlette(routes=[route(telegram, path, secret)]))
        listening = asyncio.create_task(listener.serve(sockets=[door]))
        announcing = asyncio.create_task(telegram.hook(settings.telegram_webhook, secret))
        log.info("telegram: listening for messages on port %d", door.getsockname()[1])
        try:
            yield
        finally:
            telegram.stop()
            listener.should_exit = True
            await asyncio.gather(announcing, listening)


def _listening(port: int) -> socket.socket:
    """A door on this machine. Raises SettingsError when the port cannot be had."""
    try:
        return socket.create_server(("127.0.0.1", port), backlog=1024)
    except OSError as error:
        raise SettingsError(
            f"port {port} of this machine cannot be had ({error.strerror}); "
            "set another one (TRIAGEBOT_TELEGRAM_WEBHOOK_PORT)"
        ) from error


class _Listener(uvicorn.Server):
    """Leaves signals to us."""

    def __init__(self, app: Starlette) -> None:
        quiet = {"log_config": None, "access_log": False, "ws": "none", "lifespan": "off"}
        super().__init__(uvicorn.Config(app, timeout_graceful_shutdown=5, **quiet))  # type: ignore[arg-type]

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


async def missing(settings: Settings) -> tuple[list[str], list[str]]:
    """What stands in the way of serving, and what is well, in lines for whoever runs this."""
    token = settings.token_for_telegram()
    if token is None:
        return [NOTHING_SET_UP], []
    bot = client(token, settings.telegram_server)
    try:
        me = await bot.get_me()
        webhook = await bot.get_webhook_info()
    except InvalidToken:
        return [f"telegram: {settings.telegram_server} does not accept the token; give the present one"], []
    except TelegramError as error:
        return [f"telegram: {settings.telegram_server} cannot be reached ({told(error)})"], []
    finally:
        await bot.hang_up()
    well = [f"telegram: the token is that of @{me.username}"]
    if settings.telegram_webhook is None and webhook.url:
        well.append("telegram: a webhook is set for this bot; triagebot serve takes it away and fetches by itself")
    return [], well
