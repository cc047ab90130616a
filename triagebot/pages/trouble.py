"""Pages for what went wrong: in words, in the same look, with a way on.

This file decides which faults have words of their own (`page-trouble-<status>`); the others share one.
"""

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

if TYPE_CHECKING:
    from triagebot.pages.site import Site

WORDED = (400, 403, 404, 405, 413, 429, 500, 503)


def trouble(site: "Site") -> Callable[[Request, Exception], Awaitable[Response]]:
    """What answers an HTTPException, with its status and headers."""

    async def page(request: Request, fault: Exception) -> Response:
        assert isinstance(fault, HTTPException)
        status = fault.status_code
        if status in (204, 304):
            return Response(status_code=status, headers=fault.headers)
        kind = str(status) if status in WORDED else "500" if status > 500 else "other"
        response = site.page(request, "trouble.html", status=status, kind=kind)
        response.headers.update(fault.headers or {})
        return response

    return page
