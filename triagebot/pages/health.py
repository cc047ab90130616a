"""Whether the app is well, whether it can take and send, and what it has counted.

This file decides who may see the figures of /metrics and the rows of /health and /ready: this machine and its private
networks, if no proxy has passed the request on from elsewhere. To all others there is no /metrics, and of the other two
they see whether all is well and no more. 503 says that it is not.
"""

import asyncio
import ipaddress
from collections.abc import Sequence

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from triagebot.pages.site import NEVER, Part, Seen, Site

_PASSED_ON = ("x-forwarded-for", "forwarded", "x-real-ip")


def part(site: Site) -> Part:
    async def health(request: Request) -> Response:
        return _told(request, site.watch.healthy() if site.watch is not None else (), edition=site.edition)

    async def ready(request: Request) -> Response:
        if site.watch is None:
            raise HTTPException(404)
        return _told(request, await site.watch.ready())

    async def metrics(request: Request) -> Response:
        from prometheus_client.exposition import CONTENT_TYPE_LATEST, generate_latest

        if site.registry is None or not _near(request):
            raise HTTPException(404)
        headers = {"content-type": CONTENT_TYPE_LATEST, "cache-control": NEVER}
        return Response(await asyncio.to_thread(generate_latest, site.registry), headers=headers)

    return Part((Route("/health", health), Route("/ready", ready), Route("/metrics", metrics)))


def _told(request: Request, rows: Sequence[Seen], **beside: str) -> Response:
    ok = all(row.well for row in rows)
    told = {"ok": ok, **beside}
    if rows and _near(request):
        told["rows"] = [{"what": row.what, "well": row.well, "said": row.said} for row in rows]
    return JSONResponse(told, 200 if ok else 503, {"cache-control": NEVER})


def _near(request: Request) -> bool:
    if request.client is None or any(name in request.headers for name in _PASSED_ON):
        return False
    try:
        return ipaddress.ip_address(request.client.host).is_private
    except ValueError:
        return False
