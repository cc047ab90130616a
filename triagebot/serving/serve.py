"""Runs the pages and every channel that is set up, until the process is told to stop.

Rules of this file:
- SIGTERM ends it, and so does SIGINT; SIGHUP starts it again, after a try whether that would go well;
- what is being fetched when the stop comes is taken in to its end, what is being sent gets a few seconds, and all the
  rest waits on the disk for the next start;
- the pages are always served; a channel is served, and its library loaded (some 30 MB), when it is set up;
- a case that needs a person is laid out in the staff's room of a channel that is set up;
- a link in a chat leads where the pages can be reached: to the address in the settings, or to this machine where nobody
  comes from elsewhere;
- each branch of a chain has a delivery, a store and channels of its own; they share the process, the port and what was
  loaded for the topic.
"""

import asyncio
import logging
from collections.abc import AsyncIterator, Sequence
from contextlib import AbstractAsyncContextManager, AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from starlette.applications import Starlette
from starlette.routing import Route

from triagebot.channels.staff_rooms import rooms_of
from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.delivery.metrics import registry_of
from triagebot.keeping.branches import WatchOfAll, registry_of_all
from triagebot.keeping.gauges import Gauges
from triagebot.keeping.watch import Watch
from triagebot.logs import BRANCH
from triagebot.pages import app, chatting, front
from triagebot.pages.connections import HandlesLogged
from triagebot.serving.channels import Line, matrix_line, opened, receiving, telegram_line
from triagebot.serving.preflight import ADD, ADD_TO_BRANCH
from triagebot.serving.starting import give_back, read_staff_words
from triagebot.serving.tidying import count_cases, tidying
from triagebot.serving.web import host_in_address, listening, serving_pages
from triagebot.settings import PAGES, Settings
from triagebot.signals import End, signals

if TYPE_CHECKING:
    from prometheus_client import CollectorRegistry
    from starlette.types import ASGIApp, Receive, Scope, Send

    from triagebot.store import Store

log = logging.getLogger(__name__)

T = TypeVar("T")


@dataclass(frozen=True)
class OpenBranch:
    """A branch that is ready to be served; `name` is "" for the one shop, where there are no branches."""

    name: str
    settings: Settings
    guide: Guide
    store: "Store"
    language: str


@dataclass(frozen=True)
class _Served:
    """A branch while its delivery is open."""

    branch: OpenBranch
    delivery: Delivery
    lines: tuple[Line, ...]
    pages: Starlette
    routes: tuple[Route, ...]
    watch: Watch
    registry: "CollectorRegistry"


async def serve(branches: Sequence[OpenBranch]) -> bool:
    """Runs until SIGTERM or SIGINT, or until SIGHUP and could start again; gives whether it is to.

    Raises SettingsError for settings that do not go together and for a port that cannot be had, StoreError when a
    delivery is staffed already."""
    end, settings = End(), branches[0].settings
    with listening(settings) as door:
        here = f"http://{host_in_address(settings.web_host)}:{door.getsockname()[1]}"
        asyncio.get_running_loop().set_exception_handler(HandlesLogged())
        with signals(end):
            async with AsyncExitStack() as stack:
                opened = _all_of([_delivering(branch, here) for branch in branches], branches)
                served = await stack.enter_async_context(opened)
                await stack.enter_async_context(serving_pages(_pages_of(served), door))
                for each in served:
                    BRANCH.set(each.branch.name)
                    await stack.enter_async_context(chatting(each.pages))
                    read_staff_words(each.branch.store, each.branch.language)
                    kept, about = each.branch.guide.shop.kept, each.branch
                    count = partial(count_cases, about.settings, about.guide, about.store)
                    await stack.enter_async_context(tidying(each.delivery, kept, count))
                await stack.enter_async_context(
                    _all_of([receiving(each.delivery, each.lines) for each in served], [each.branch for each in served])
                )
                give_back()
                _tell(served, here)
                await end.stopped.wait()
                log.info("stopping")
    log.info("stopped; what waits is on the disk")
    return end.again


@asynccontextmanager
async def _delivering(branch: OpenBranch, here: str) -> AsyncIterator[_Served]:
    """Opens a branch's delivery and its channels; `here` is the address of the web server on this machine."""
    settings, store = branch.settings, branch.store
    token, account = settings.token_for_telegram(), settings.account_for_matrix()
    alone = token is None and account is None
    guide = _linking(settings, branch.guide, f"{here}{PAGES}{branch.name}" if branch.name else here, alone=alone)
    rooms = rooms_of(settings, store, on_telegram=token is not None, on_matrix=account is not None)
    delivery = Delivery(guide, store, rooms=rooms, several=store.database.side_by_side)
    lines = []
    if token is not None:
        lines.append(telegram_line(settings, token, guide, delivery, branch.language))
    if account is not None:
        lines.append(matrix_line(settings, account, guide, delivery, store, branch.language))
    try:
        async with delivery:
            await opened(delivery, lines)
            routes = tuple(route for line in lines for route in line.routes)
            watch = Watch(delivery, store)
            registry = registry_of(delivery.counts, Gauges(watch))
            pages = app(
                guide,
                delivery,
                store,
                extra_routes=() if branch.name else routes,
                registry=registry,
                frames=settings.web_frames,
                watch=watch,
            )
            yield _Served(branch, delivery, tuple(lines), pages, routes, watch, registry)
    finally:
        for line in lines:
            await line.channel.close()


def _pages_of(served: Sequence[_Served]) -> Starlette:
    """The pages of the one shop; or those of all branches, behind a page that lists them."""
    if not served[0].branch.name:
        return served[0].pages
    return front(
        {each.branch.name: each.pages for each in served},
        around=_named,
        extra_routes=[route for each in served for route in each.routes],
        registry=registry_of_all({each.branch.name: each.registry for each in served}),
        watch=WatchOfAll({each.branch.name: each.watch for each in served}),
    )


def _named(branch: str, pages: "ASGIApp") -> "ASGIApp":
    """What is logged meanwhile is of this branch."""

    async def within(scope: "Scope", receive: "Receive", send: "Send") -> None:
        BRANCH.set(branch)
        await pages(scope, receive, send)

    return within


def _tell(served: Sequence[_Served], here: str) -> None:
    for each in served:
        name = each.branch.name
        BRANCH.set(name)
        log.info("pages and chat: %s", each.branch.settings.web_address or f"{here}{PAGES if name else '/'}{name}")
        if not each.lines:
            log.info("%s", ADD_TO_BRANCH if name else ADD)
    BRANCH.set("")


@asynccontextmanager
async def _all_of(
    opening: Sequence[AbstractAsyncContextManager[T]], branches: Sequence[OpenBranch]
) -> AsyncIterator[list[T]]:
    """Enters these one after the other, each for its branch, and leaves all of them together: a stop takes as long as
    the slowest, and not as all of them."""
    entered: list[AbstractAsyncContextManager[T]] = []
    values = []
    try:
        for each, branch in zip(opening, branches, strict=True):
            BRANCH.set(branch.name)
            values.append(await each.__aenter__())
            entered.append(each)
        BRANCH.set("")
        yield values
    finally:
        await asyncio.gather(*(each.__aexit__(None, None, None) for each in entered))


def _linking(settings: Settings, guide: Guide, here: str, *, alone: bool) -> Guide:
    """The guide whose notes are read, and whose pages are found, where those who talk to us can reach them."""
    address = settings.web_address or (here if alone else None)
    if address is None:
        log.info("links to notes are left out of chats: set TRIAGEBOT_WEB_ADDRESS to where people reach the pages")
        return guide
    return replace(guide, shop=guide.shop.read_at(f"{address}/notes"), address=address)
