"""Runs the pages and every channel that is set up, until the process is told to stop; and tells beforehand what is
missing.

Rules of this file:
- SIGTERM ends it, and so does SIGINT; SIGHUP starts it again, after a try whether that would go well;
- what is being fetched when the stop comes is taken in to its end, what is being sent gets a few seconds, and all the
  rest waits on the disk for the next start;
- the pages are always served; a channel is served, and its library loaded (some 30 MB), when it is set up;
- a case that needs a person is laid out in the staff's room of a channel that is set up;
- a link in a chat leads where the pages can be reached: to the address in the settings, or to this machine where nobody
  comes from elsewhere.
"""

import asyncio
import ctypes
import gc
import logging
import mmap
import os
import re
import socket
import threading
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator, Mapping, Sequence
from contextlib import AsyncExitStack, asynccontextmanager, contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import uvicorn
from starlette.applications import Starlette
from starlette.routing import Route

from triagebot.channels.staff_rooms import rooms_of
from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.delivery.metrics import registry_of
from triagebot.errors import DataError, SettingsError, StoreError
from triagebot.keeping.gauges import Gauges
from triagebot.keeping.watch import Watch
from triagebot.pages import app, chatting
from triagebot.pages.connections import Connections, HandlesLogged
from triagebot.settings import MatrixAccount, Settings
from triagebot.signals import End, signals

if TYPE_CHECKING:
    from triagebot.channels.matrix import Matrix
    from triagebot.channels.telegram import Telegram
    from triagebot.store import Store

log = logging.getLogger(__name__)

#: Seconds between tidyings, and how long is kept what was done and sent: longer than any platform sends it again.
TIDY_EVERY = 3600.0
#: In the list of what is mapped (proc(5)): where something begins, and where a library that cannot be written to does.
_MAPPING = re.compile(r"([0-9a-f]+)-([0-9a-f]+) ")
_LIBRARY = re.compile(r"([0-9a-f]+)-([0-9a-f]+) r-.p \S+ \S+ \d+ +\S*\.so[.0-9]*$")
#: How many things to mend are told at the start.
MOST_WARNINGS = 10
#: How to add a channel, for an owner who has none yet.
ADD = (
    "to answer on Telegram, too, set TRIAGEBOT_TELEGRAM_TOKEN (or _TOKEN_FILE) to the token of a bot; "
    "on Matrix, set TRIAGEBOT_MATRIX_SERVER, _USER and _PASSWORD_FILE (see the README)"
)


def warn_of(to_mend: Sequence[str]) -> None:
    """Says what of the shop's own data ought to be mended, though it can be served."""
    for line in to_mend[:MOST_WARNINGS]:
        log.warning("shop: %s", line)
    if len(to_mend) > MOST_WARNINGS:
        log.warning("shop: %d more; triagebot check tells all", len(to_mend) - MOST_WARNINGS)


@dataclass(frozen=True)
class _Line:
    """A channel that is set up: `receive` lets messages come in until `stop`; `routes` are what it needs of the web."""

    channel: "Telegram | Matrix"
    receive: Callable[[], Coroutine[Any, Any, None]]
    said: str
    routes: tuple[Route, ...] = ()


async def serve(settings: Settings, guide: Guide, store: "Store", language: str) -> bool:
    """Runs until SIGTERM or SIGINT, or until SIGHUP and could start again; gives whether it is to.

    Raises SettingsError for settings that do not go together and for a port that cannot be had, StoreError when the
    delivery is staffed already."""
    end = End()
    with _listening(settings) as door:
        here = f"http://{_host(settings.web_host)}:{door.getsockname()[1]}"
        token, account = settings.token_for_telegram(), settings.account_for_matrix()
        alone = token is None and account is None
        guide = _linking(settings, guide, here, alone=alone)
        delivery = Delivery(
            guide,
            store,
            rooms=rooms_of(settings, store, on_telegram=token is not None, on_matrix=account is not None),
        )
        lines = []
        if token is not None:
            lines.append(_telegram(settings, token, guide, delivery, language))
        if account is not None:
            lines.append(_matrix(settings, account, guide, delivery, store, language))
        asyncio.get_running_loop().set_exception_handler(HandlesLogged())
        with signals(end):
            try:
                async with AsyncExitStack() as stack:
                    await stack.enter_async_context(delivery)
                    for line in lines:
                        await line.channel.open()
                        await delivery.serve(line.channel)
                    routes = [route for line in lines for route in line.routes]
                    watch = Watch(delivery, store)
                    pages = app(
                        guide,
                        delivery,
                        store,
                        extra_routes=routes,
                        registry=registry_of(delivery.counts, Gauges(watch)),
                        frames=settings.web_frames,
                        watch=watch,
                    )
                    await stack.enter_async_context(_pages(pages, door))
                    await stack.enter_async_context(chatting(pages))
                    await stack.enter_async_context(
                        tidying(delivery, guide.shop.kept, partial(_count, settings, guide, store))
                    )
                    for line in lines:
                        await stack.enter_async_context(_receiving(line))
                    give_back()
                    log.info("pages and chat: %s", settings.web_address or f"{here}/")
                    if alone:
                        log.info("%s", ADD)
                    await end.stopped.wait()
                    log.info("stopping")
            finally:
                for line in lines:
                    await line.channel.close()
    log.info("stopped; what waits is on the disk")
    return end.again


def prepare(settings: Settings, to_mend: Callable[[], Sequence[str]]) -> None:
    """Warns of what the shop ought to mend, and makes the database or brings it up to date, in a process that then
    ends, since what is loaded for that (some 12 MB) is of no use afterwards. Call it before any thread runs.
    `open_store` tells what goes wrong with the database."""
    import triagebot.store.transactions  # noqa: F401 - with the database's library: else it would load twice
    from triagebot.store import open_store

    child = os.fork()
    if child:
        os.waitpid(child, 0)
        return
    try:
        warn_of(to_mend())
        open_store(settings.data_folder, key_file=settings.key_file, database=settings.database).close()
    finally:
        os._exit(0)


def give_back() -> None:
    """Returns to the system the memory that only starting up needed, where it can be told (Linux, glibc): what was
    allocated and is free, and the pages of libraries' files. Of these the system maps again what is used."""
    gc.collect()
    with suppress(AttributeError, OSError):
        library = ctypes.CDLL(None, use_errno=True)
        library.malloc_trim(0)
        for start, size in _unchanged_library_pages():
            library.madvise(ctypes.c_void_p(start), ctypes.c_size_t(size), mmap.MADV_DONTNEED)


def _unchanged_library_pages() -> Iterator[tuple[int, int]]:
    """Start and size of what is mapped read-only from libraries and was never written to, so that it stands in their
    files as it is. A library once loaded stays where it is."""
    start = end = 0
    readable = False
    for line in Path("/proc/self/smaps").read_text(encoding="utf-8", errors="replace").splitlines():
        if mapped := _LIBRARY.match(line):
            start, end, readable = int(mapped[1], 16), int(mapped[2], 16), True
        elif _MAPPING.match(line):
            readable = False
        elif readable and line.split() == ["Anonymous:", "0", "kB"]:
            yield start, end - start


def _matrix(
    settings: Settings, account: MatrixAccount, guide: Guide, delivery: Delivery, store: "Store", language: str
) -> _Line:
    from triagebot.channels.matrix import connected

    matrix = connected(account, guide, delivery, store, language, settings.matrix_staff_room or "")
    return _Line(matrix, matrix.run, "matrix: looking for messages")


def _telegram(settings: Settings, token: str, guide: Guide, delivery: Delivery, language: str) -> _Line:
    """Messages are fetched, or brought to the webhook."""
    from triagebot.channels.telegram import Telegram, client
    from triagebot.channels.telegram.webhook import route, secret_from

    telegram = Telegram(
        guide, delivery, client(token, settings.telegram_server), language, settings.telegram_staff_room or 0
    )
    if settings.telegram_webhook is None:
        return _Line(telegram, telegram.poll, "telegram: fetching messages")
    address, secret = settings.telegram_webhook, settings.telegram_webhook_secret or secret_from(token)
    path = urlsplit(address).path
    return _Line(
        telegram,
        lambda: telegram.stay_hooked(address, secret),
        f"telegram: listening for messages at {path}",
        (route(telegram, path, secret),),
    )


@asynccontextmanager
async def _receiving(line: _Line) -> AsyncIterator[None]:
    coming = asyncio.create_task(line.receive())
    log.info("%s", line.said)
    try:
        yield
    finally:
        line.channel.stop()
        await coming


def _linking(settings: Settings, guide: Guide, here: str, *, alone: bool) -> Guide:
    """The guide whose notes are read, and whose pages are found, where those who talk to us can reach them."""
    address = settings.web_address or (here if alone else None)
    if address is None:
        log.info("links to notes are left out of chats: set TRIAGEBOT_WEB_ADDRESS to where people reach the pages")
        return guide
    return replace(guide, shop=guide.shop.read_at(f"{address}/notes"), address=address)


@asynccontextmanager
async def tidying(
    delivery: Delivery, kept: Mapping[str, timedelta], count: Callable[[threading.Event], None]
) -> AsyncIterator[None]:
    """Now and then deletes what was kept for as long as it may be, and lets `count` count the cases in a thread, until
    the event that it is given."""
    ending, counting = threading.Event(), set[asyncio.Task[None]]()

    async def tidy() -> None:
        while True:
            await asyncio.sleep(TIDY_EVERY)
            try:
                removed = await delivery.tidy(kept)
                told = ", ".join(f"{kind} {count}" for kind, count in removed.items() if count)
                log.info("deleted after its time: %s", told or "nothing")
                counting.add(asyncio.create_task(asyncio.to_thread(count, ending)))
                await asyncio.wait(counting)
                counting.pop().result()
            except (StoreError, DataError) as error:
                log.warning("cannot tidy up now: %s", error)

    task = asyncio.create_task(tidy())
    try:
        yield
    finally:
        task.cancel()
        ending.set()
        await asyncio.gather(*counting)


def _count(settings: Settings, guide: Guide, store: "Store", ending: threading.Event) -> None:
    """Puts down what is counted of cases of which nothing was heard for a day, for the next report."""
    from triagebot.study.totals import Judging, counted
    from triagebot.topics import built_in_topic, load_topic

    shipped = load_topic(settings.topic or built_in_topic())
    counted(store, Judging(shipped, guide.topic), datetime.now(UTC), go_on=lambda: not ending.is_set())


# --- pages --------------------------------------------------------------------------------------------------------


@asynccontextmanager
async def _pages(pages: Starlette, door: socket.socket) -> AsyncIterator[None]:
    listener = _Listener(pages)
    listening = asyncio.create_task(listener.serve(sockets=[door]))
    try:
        yield
    finally:
        listener.should_exit = True
        with suppress(asyncio.CancelledError):
            await listening


def _host(host: str) -> str:
    """A host as it stands in an address."""
    return f"[{host}]" if ":" in host else host


def _listening(settings: Settings) -> socket.socket:
    """A door on this machine. Raises SettingsError when it cannot be had."""
    host, port = settings.web_host, settings.web_port
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        door = socket.create_server((host, port), family=family, backlog=1024)
    except OSError as error:
        raise SettingsError(
            f"port {port} of {host} cannot be had ({error.strerror or error}); "
            "set another one (TRIAGEBOT_WEB_PORT, TRIAGEBOT_WEB_HOST)"
        ) from error
    door.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # else an answer in two pieces waits some 40 ms
    return door


class _Listener(uvicorn.Server):
    """Leaves signals to us."""

    def __init__(self, pages: Starlette) -> None:
        quiet = {
            "log_config": None,
            "access_log": False,
            "ws": "none",
            "lifespan": "off",
            "http": Connections().protocol,
        }
        config = uvicorn.Config(pages, timeout_graceful_shutdown=5, server_header=False, **quiet)  # type: ignore[arg-type]
        super().__init__(config)

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


# --- looking beforehand ---------------------------------------------------------------------------------------------


def readable(settings: Settings) -> tuple[Sequence[str], Sequence[str]]:
    """As `preflight`, of nothing but the files of secrets."""
    problems = []
    for secret in (settings.token_for_telegram, settings.account_for_matrix):
        try:
            secret()
        except SettingsError as error:
            problems.append(str(error))
    return problems, () if problems else ("settings, topic and shop can be read",)


async def preflight(settings: Settings, *, pages: bool = True) -> tuple[Sequence[str], Sequence[str]]:
    """What stands in the way of serving, and what is well, in lines for the person who runs this. Without `pages` only
    of the channels, as beside a bot that runs and has the port."""
    problems, well = [], []
    try:
        with _listening(settings) if pages else nullcontext() as door:
            if door is not None:
                well.append(f"pages: http://{_host(settings.web_host)}:{door.getsockname()[1]}/ can be served")
    except SettingsError as error:
        problems.append(f"pages: {error}")
    token, account = settings.token_for_telegram(), settings.account_for_matrix()
    looks: list[Coroutine[Any, Any, tuple[list[str], list[str]]]] = []
    if token is not None:
        looks.append(_problems_of_telegram(settings, token))
    if account is not None:
        looks.append(_problems_of_matrix(settings, account))
    for look in looks:
        found = await look
        problems += found[0]
        well += found[1]
    if not looks:
        well.append(ADD)
    return problems, well


async def _problems_of_matrix(settings: Settings, account: MatrixAccount) -> tuple[list[str], list[str]]:
    from triagebot.channels.matrix import problems
    from triagebot.store import open_store

    with open_store(settings.data_folder, key_file=settings.key_file, database=settings.database) as store:
        return await problems(account, store, settings.matrix_staff_room or "")


async def _problems_of_telegram(settings: Settings, token: str) -> tuple[list[str], list[str]]:
    from triagebot.channels.telegram.preflight import problems

    return await problems(token, settings.telegram_server, settings.telegram_webhook, settings.telegram_staff_room)
