"""Keeps the pages up when somebody sends too much or too often, or when a page of ours fails.

Decided here and nowhere else:
- how much may be sent in one request, and how often one address may ask: a bucket of so many tokens, filled again at so
  many a second, one for reading and one for writing. Of an IPv6 address the first 64 bits count, which is what one
  household has. Behind a proxy, the server that runs this app must be told to believe its X-Forwarded-For.
- that nothing is written for a page of somebody else's: a browser says where a request comes from (Sec-Fetch-Site, or
  else Origin), and what comes from another site is refused. What says neither is no browser.
- what has no such limit: whether the app is well and ready, which a monitor asks often.
- a page that fails is logged by the kind and place of its fault, never with what somebody wrote, and answered in words.
"""

import ipaddress
import logging
from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from time import perf_counter
from typing import TYPE_CHECKING

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request

from triagebot.delivery.counts import place_of
from triagebot.pages.trouble import trouble
from triagebot.rates import Buckets, Rate

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from triagebot.pages.site import Site

log = logging.getLogger(__name__)

UNLIMITED = frozenset({"/health", "/ready", "/metrics"})
READING = frozenset({"GET", "HEAD", "OPTIONS"})
#: How often one address may read, and write.
READS, WRITES = Rate(120, 20), Rate(20, 2)


@dataclass(frozen=True, slots=True)
class Limits:
    """`body` in bytes; `addresses`: how many are remembered at most (who has not asked for longest is forgotten)."""

    body: int = 64 * 1024
    reading: Rate = READS
    writing: Rate = WRITES
    addresses: int = 10_000


class TooMuch(HTTPException):
    """More was sent than is taken here."""

    def __init__(self) -> None:
        super().__init__(413)


def admit(buckets: Buckets, scope: "Scope") -> None:
    """Takes a token of the address that asks. Raises HTTPException (429) where there is none."""
    wait = buckets.wait(address_of(scope))
    if wait > 0:
        raise HTTPException(429, headers={"retry-after": str(ceil(wait))})


class Guard:
    """Stands before the pages; `bodies` are greater limits by the beginning of the address."""

    def __init__(self, app: "ASGIApp", site: "Site", limits: Limits, bodies: Mapping[str, int]) -> None:
        self._app = app
        self._site = site
        self._limits = limits
        self._bodies = sorted(bodies.items(), key=lambda row: -len(row[0]))
        self._reading = Buckets(limits.reading, limits.addresses)
        self._writing = Buckets(limits.writing, limits.addresses)
        self._trouble = trouble(site)
        self._seconds = site.page_seconds()

    async def __call__(self, scope: "Scope", receive: "Receive", send: "Send") -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = perf_counter()
        status: int | None = None  # until something of an answer was sent

        async def say(message: "Message") -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            self._let_in(scope)
            await self._app(scope, self._measured(scope, receive), say)
        except (HTTPException, ClientDisconnect) as fault:
            if status is not None or isinstance(fault, ClientDisconnect):
                return
            await self._answer(fault, scope, receive, say)
        except Exception as error:
            log.error("a page failed: %s %s (%s)", scope["method"], _route(scope), place_of(error))
            if status is not None:
                return  # raised, all of it would be written down by the server
            await self._answer(HTTPException(500), scope, receive, say)
        finally:
            if self._seconds is not None:
                self._seconds.labels(_route(scope), str(status or 500)).observe(perf_counter() - begun)

    async def _answer(self, fault: HTTPException, scope: "Scope", receive: "Receive", send: "Send") -> None:
        response = await self._trouble(Request(scope), fault)
        await response(scope, receive, send)

    def _let_in(self, scope: "Scope") -> None:
        """Raises HTTPException for what comes from another site, too often, or is said to be too much."""
        path, reading = _path(scope), scope["method"] in READING
        if not reading and not from_here(Headers(scope=scope)):
            raise HTTPException(403)
        if path not in UNLIMITED:
            admit(self._reading if reading else self._writing, scope)
        announced = dict(scope["headers"]).get(b"content-length", b"0")
        if not announced.isdigit():
            raise HTTPException(400)
        if int(announced) > self._most(path):
            raise TooMuch

    def _measured(self, scope: "Scope", receive: "Receive") -> "Receive":
        """What is sent, until it is more than is taken."""
        most, taken = self._most(_path(scope)), 0

        async def hear() -> "Message":
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > most:
                raise TooMuch
            return message

        return hear

    def _most(self, path: str) -> int:
        return next((most for prefix, most in self._bodies if path.startswith(prefix)), self._limits.body)


def from_here(headers: Headers) -> bool:
    """Whether a request is of one of our own pages, or of no browser at all."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is None or origin.partition("://")[2] == headers.get("host", "")


def address_of(scope: "Scope") -> str:
    """Whose bucket it is: the client's address, of IPv6 the network of 64 bits."""
    client = scope.get("client")
    try:
        address = ipaddress.ip_address(client[0] if client else "")
    except ValueError:
        return str(client[0]) if client else ""
    if isinstance(address, ipaddress.IPv6Address):
        mapped = address.ipv4_mapped
        return str(mapped) if mapped else str(ipaddress.ip_network((int(address) >> 64 << 64, 64)))
    return str(address)


def _path(scope: "Scope") -> str:
    return str(scope["path"]).removeprefix(str(scope.get("root_path", "")))


def _route(scope: "Scope") -> str:
    """Which page it is, by the place of its code: never what somebody put into the address."""
    endpoint = scope.get("endpoint")
    name = getattr(endpoint, "__name__", None)  # this guard itself, where no page has the address, has none
    return f"{endpoint.__module__.rpartition('.')[2]}.{name}" if endpoint is not None and name else "none"
