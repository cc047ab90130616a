"""Who is at the chat page: somebody who knows a secret.

Rules of this file:
- A conversation belongs to the browser with its secret, 256 random bits, in a cookie that no script can read and
  no other site's request carries. Nothing but a keyed hash of it goes to the delivery, to the disk or to a
  page; no address and no log holds it.
- A page that is shown to somebody new brings a fresh secret along in its forms, which becomes the conversation's with
  the first message. So a first message that comes twice begins one conversation, and a visitor who
  only looks has no cookie.
- In a frame on another site there are two ways, since browsers differ in what they let a frame keep. The first is a
  cookie of its own that is apart for every site around the frame (Partitioned); browsers take it over https, or from
  this very machine. The second is that the page's script keeps the secret that came with the page for as long as its
  tab lives (sessionStorage, else only in memory) and sends it in a header, which goes before any cookie. Neither is the
  cookie of the page itself: another site's frame never shows what somebody said here.
- Where a frame may keep neither, its page says so, and offers a link to the page itself that has the secret behind its
  # sign. That never leaves the browser; the script of that page reads it there, and it goes before any cookie.
- Where even the page itself can keep no cookie, its script does the second of these, too.
"""

import re
import secrets
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response

from triagebot.pages.cookies import cookie_name

if TYPE_CHECKING:
    from triagebot.store.encryption import Cipher

BYTES = 32
HEADER = "x-chat-secret"
#: Seconds for which a browser keeps the cookie after the last message.
KEPT = 30 * 24 * 3600

_SECRET = re.compile(r"[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class Visitor:
    """`conversation` is its name for the delivery; `tag` tells conversations apart on the page, and is no secret.
    `carried` when the secret came in a header."""

    secret: str = field(repr=False)
    conversation: str
    tag: str
    carried: bool = False


def fresh() -> str:
    """A secret that nobody has yet."""
    return secrets.token_urlsafe(BYTES)


def visitor_of(request: Request, cipher: "Cipher", begun_with: str = "") -> Visitor | None:
    """Who asks; `begun_with` is the secret that came with a form, which counts for those who have none yet."""
    carried = request.headers.get(HEADER, "")
    for secret in (carried, request.cookies.get(_cookie(request), ""), begun_with):
        if _SECRET.fullmatch(secret):
            return with_secret(secret, cipher, carried=secret == carried)
    return None


def with_secret(secret: str, cipher: "Cipher", *, carried: bool = False) -> Visitor:
    return Visitor(secret, cipher.lookup_hash("page", secret), cipher.lookup_hash("page tag", secret)[:16], carried)


def framed(request: Request) -> bool:
    """Whether this is about the page in a frame."""
    return request.url.path.endswith("/chat/frame") or "framed" in request.query_params


def remember(response: Response, request: Request, visitor: Visitor) -> None:
    """Has the browser keep the secret, or go on keeping it."""
    if framed(request) or not visitor.carried:
        _set(response, request, visitor.secret, KEPT)


def forget(response: Response, request: Request) -> None:
    """Has the browser throw the secret away."""
    _set(response, request, "", 0)


def _set(response: Response, request: Request, value: str, seconds: int) -> None:
    rules = ["HttpOnly", "Path=/", f"Max-Age={seconds}"]
    if framed(request):
        rules += ["Secure", "SameSite=None", "Partitioned"]
    else:
        rules += ["Secure", "SameSite=Lax"] if _secure(request) else ["SameSite=Lax"]
    response.headers.append("set-cookie", "; ".join([f"{_cookie(request)}={value}", *rules]))


def _secure(request: Request) -> bool:
    return request.url.scheme == "https"


def _cookie(request: Request) -> str:
    return cookie_name(request, "chat-framed" if framed(request) else "chat")
