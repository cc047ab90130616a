"""The pages of a chain: one that lists the branches, and behind it those of each branch, below /b/ and its name.

- Each branch's pages know their own shop, store and chat, and nothing of another's; here only names and streets meet,
  which everybody may read.
- What belongs to no branch is answered in the same look: an address that leads nowhere, whether all is well, and the
  figures of all branches.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route

from triagebot.pages import health, static
from triagebot.pages.app import app, now
from triagebot.pages.site import Part, Site, Watch, threaded

if TYPE_CHECKING:
    from prometheus_client import CollectorRegistry
    from starlette.types import ASGIApp

#: Where the branches' pages begin.
BRANCHES = "/b"


def front(
    branches: Mapping[str, Starlette],
    *,
    around: "Callable[[str, ASGIApp], ASGIApp]" = lambda name, pages: pages,
    extra_routes: Sequence[BaseRoute] = (),
    registry: "CollectorRegistry | None" = None,
    watch: Watch | None = None,
    clock: Callable[[], datetime] = now,
) -> Starlette:
    """The app for several branches, each with the app that it would have alone; what is put `around` that is given the
    branch's name, too. The rest is as for `app`."""
    sites = {name: each.state.site for name, each in branches.items()}
    mounts = [Mount(f"{BRANCHES}/{name}", app=around(name, each)) for name, each in branches.items()]
    first: Site = next(iter(sites.values()))
    return app(
        first.guide,
        extra_routes=[*extra_routes, *mounts],
        registry=registry,
        clock=clock,
        parts=(partial(part, sites), health.part, static.part),
        watch=watch,
    )


def part(sites: Mapping[str, Site], site: Site) -> Part:
    """`sites` are those of the branches, by name; `site` is the one that lists them."""
    site.branches = sites
    for name, each in sites.items():
        if each.chat is not None:
            each.chat.stand_at(f"{BRANCHES}/{name}")

    def home(request: Request) -> Response:
        return site.page(request, "branches.html")

    async def without_slash(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in sites:
            raise HTTPException(404)
        query = f"?{request.url.query}" if request.url.query else ""
        return RedirectResponse(f"{BRANCHES}/{name}/{query}", 307)

    return Part((threaded("/", home), Route(f"{BRANCHES}/{{name}}", without_slash)))
