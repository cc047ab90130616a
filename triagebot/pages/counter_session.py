"""Whose browser it is at the counter page: one with the secret of a session, in a cookie that no script reads and that
no other site's page sends; and what a page is told on the way to the next one.

What a member was answered is carried to the page that shows it in a cookie of its own, encrypted, and is gone once it
was shown.
"""

from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response

from triagebot.counter.login import SESSION_LASTS
from triagebot.pages.cookies import cookie_name
from triagebot.store.encryption import DecryptionError

if TYPE_CHECKING:
    from triagebot.store.encryption import Cipher

_SESSION, _TOLD = "counter", "counter-told"
#: Seconds until what was not shown is forgotten, and how much of it is carried (a browser keeps 4,096 bytes).
_SHOWN_WITHIN, _MOST = 60, 900


def session_of(request: Request) -> str:
    """The secret of a session; "" where there is none."""
    return request.cookies.get(cookie_name(request, _SESSION), "")


def begin(response: Response, request: Request, session: str) -> None:
    _set(response, request, _SESSION, session, int(SESSION_LASTS.total_seconds()))


def end(response: Response, request: Request) -> None:
    _set(response, request, _SESSION, "", 0)


def carry(response: Response, request: Request, cipher: "Cipher", told: str) -> None:
    """Takes along what a member was answered."""
    _set(response, request, _TOLD, cipher.encrypt(told[:_MOST]), _SHOWN_WITHIN)


def carried(request: Request, cipher: "Cipher") -> str:
    """What was taken along; "" for nothing."""
    try:
        return cipher.decrypt(request.cookies.get(cookie_name(request, _TOLD), ""))
    except DecryptionError:
        return ""


def shown(response: Response, request: Request) -> None:
    """What was carried is not shown again."""
    if cookie_name(request, _TOLD) in request.cookies:
        _set(response, request, _TOLD, "", 0)


def _set(response: Response, request: Request, name: str, value: str, seconds: int) -> None:
    rules = ["HttpOnly", "SameSite=Strict", "Path=/", f"Max-Age={seconds}"]
    rules += ["Secure"] if request.url.scheme == "https" else []
    response.headers.append("set-cookie", "; ".join([f"{cookie_name(request, name)}={value}", *rules]))
