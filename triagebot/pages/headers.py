"""What every answer says about itself, for the reader's safety.

Decided here and nowhere else: what a page may load (what this app serves, and nothing else: no script or style within
a page, no frame, no form to elsewhere), and what a browser tells others. An answer that sets one of these headers
itself keeps it: a page that may be framed says so with `policy`.
"""

from typing import TYPE_CHECKING, Any

from starlette.datastructures import MutableHeaders

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from triagebot.pages.site import Site


def policy(frame_ancestors: str = "'none'") -> str:
    """The content policy of a page; `frame_ancestors` is who may show it in a frame of theirs."""
    own = ("script-src", "style-src", "img-src", "connect-src", "manifest-src", "form-action")
    rules = ["default-src 'none'", *(f"{kind} 'self'" for kind in own)]
    return "; ".join([*rules, "base-uri 'none'", f"frame-ancestors {frame_ancestors}"])


#: A picture or file that is opened by itself: it may do nothing at all.
ALONE = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"

HEADERS = {
    "content-security-policy": policy(),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",  # with no-referrer, a browser would not say where our own forms come from
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}


class Headers:
    """Adds the headers to every answer that does not set them itself."""

    def __init__(self, app: "ASGIApp", site: "Site") -> None:
        self._app = app
        self._site = site

    async def __call__(self, scope: "Scope", receive: "Receive", send: "Send") -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        secure = scope.get("scheme") == "https"

        async def say(message: "Message") -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=_raw(message))
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                if "frame-ancestors 'none'" in headers["content-security-policy"]:
                    headers.setdefault("x-frame-options", "DENY")
                if secure:
                    headers.setdefault("strict-transport-security", "max-age=31536000")
            await send(message)

        await self._app(scope, receive, say)


def _raw(message: "Message") -> Any:
    message.setdefault("headers", [])
    return message
