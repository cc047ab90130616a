"""Whether the app is well, and what it has counted.

This file decides who may see the figures of /metrics: this machine and its private networks, if no proxy
has passed the request on from elsewhere. To all others there is no such address.
"""

import ipaddress

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from triagebot.pages.site import NEVER, Part, Site

_PASSED_ON = ("x-forwarded-for", "forwarded", "x-real-ip")


def part(site: Site) -> Part:
    async def health(request: Request) -> Response:
        return JSONResponse({"ok": True, "edition": site.edition}, headers={"cache-control": NEVER})

    async def metrics(request: Request) -> Response:
        from prometheus_client.exposition import CONTENT_TYPE_LATEST, generate_latest

        if site.registry is None or not _near(request):
            raise HTTPException(404)
        headers = {"content-type": CONTENT_TYPE_LATEST, "cache-control": NEVER}
        return Response(generate_latest(site.registry), headers=headers)

    return Part((Route("/health", health), Route("/metrics", metrics)))


def _near(request: Request) -> bool:
    if request.client is None or any(name in request.headers for name in _PASSED_ON):
        return False
    try:
        return ipaddress.ip_address(request.client.host).is_private
    except ValueError:
        return False
