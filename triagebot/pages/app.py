"""The web app, put together from its parts.

This file decides which parts there are, and through what every request passes: first the headers, then the
guard, then the part that owns the address. `extra_routes` stand outside the guard, since they guard themselves (a
platform that sends messages does so in bursts and from few addresses); the headers are theirs, too.
"""

from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route, Router

from triagebot.conversation import Guide
from triagebot.pages import card, chat, counter, export, gauge, health, notes, pictures, static, visit
from triagebot.pages.guard import Guard, Limits
from triagebot.pages.headers import Headers
from triagebot.pages.site import Part, Site, Watch
from triagebot.pages.trouble import trouble

if TYPE_CHECKING:
    from prometheus_client import CollectorRegistry

    from triagebot.delivery import Delivery
    from triagebot.store import Store

#: What the app shows, in the order of the navigation. The first part that owns an address has it.
PARTS: tuple[Callable[[Site], Part], ...] = (
    chat.part,
    notes.part,
    gauge.part,
    card.part,
    counter.part,
    visit.part,
    export.part,
    pictures.part,
    health.part,
    static.part,
)


def now() -> datetime:
    return datetime.now(UTC)


def app(
    guide: Guide,
    delivery: "Delivery | None" = None,
    store: "Store | None" = None,
    *,
    extra_routes: Sequence[BaseRoute] = (),
    registry: "CollectorRegistry | None" = None,
    limits: Limits | None = None,
    clock: Callable[[], datetime] = now,
    parts: Sequence[Callable[[Site], Part]] = PARTS,
    frames: Sequence[str] = (),
    watch: Watch | None = None,
) -> Starlette:
    """The app for one guide. `registry` is what /metrics shows; without one there is no such address. With a
    delivery and its store there is the chat page (see `chatting`); `frames` are the sites that may show it in a
    frame. `watch` knows whether the bot is well; without it the app speaks for itself alone."""
    site = Site(guide, delivery, store, registry, clock, frames, watch)
    made = [part(site) for part in parts]
    site.nav = tuple(entry for part in made for entry in part.nav)
    routes = [route for part in made for route in part.routes]
    bodies = {prefix: most for part in made for prefix, most in part.bodies.items()}
    guarded = Guard(Router([*routes, Route("/", _home)], redirect_slashes=False), site, limits or Limits(), bodies)
    application = Starlette(
        routes=[*extra_routes, Mount("/", app=guarded)],
        middleware=[Middleware(Headers, site=site)],
        exception_handlers={HTTPException: trouble(site)},
    )
    application.router.redirect_slashes = False
    application.state.site = site
    return application


@asynccontextmanager
async def chatting(application: Starlette) -> AsyncIterator[None]:
    """Within it, the delivery sends to the chat page; afterwards nobody waits there, so that the app can stop at
    once."""
    site: Site = application.state.site
    if site.chat is None or site.delivery is None:
        yield
        return
    await site.delivery.serve(site.chat)
    try:
        yield
    finally:
        site.chat.close()


async def _home(request: Request) -> Response:
    """Where somebody lands while no part has the address /."""
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"{request.scope.get('root_path', '')}/notes/{query}", 307)
