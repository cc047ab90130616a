"""A bad line between a client and its homeserver: a small proxy on the loopback that fails as it is told.

    async with Faults(server.url) as line:
        client = AsyncClient(line.url, ...)
        line.script("PUT", r"/send/m\\.room", lost(), times=1)

A fault holds for the next `times` requests whose method and path (with its query) match; the fault scripted first wins.
Everything else goes through untouched. The clients' own library (aiohttp) asks once more by itself when a GET, PUT or
DELETE is hung up on: for a client to notice that, `dropped` and `lost` must hold twice.
`calls` says what was asked and what came of it, in order.
"""

import asyncio
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, Self

import aiohttp
from aiohttp import web

#: How a fault waits.
pause = asyncio.sleep
_HOP_BY_HOP = {"connection", "keep-alive", "transfer-encoding", "te", "trailer", "upgrade", "host"}
_ON_ITS_WAY_BACK = _HOP_BY_HOP | {"content-length", "date", "server"}
FOR_EVER = 10**9


@dataclass(frozen=True)
class Fault:
    """What happens to a request.

    `before`/`after`: seconds that it is held up before the server has it, and before the client has the answer.
    `until`: it is held up before the server has it until that is set.
    `status` is answered without asking the server (`body` as JSON, or as it is if it is text).
    `lose`: the server does it, and the client never knows. `drop`: the server never hears of it.
    `cut`: the client gets half of the server's answer.
    """

    name: str
    before: float = 0.0
    after: float = 0.0
    until: asyncio.Event | None = None
    status: int = 0
    body: Any = None
    drop: bool = False
    lose: bool = False
    cut: bool = False


def broken(status: int = 500) -> Fault:
    """An error of the homeserver's own."""
    return Fault(f"broken {status}", status=status, body={"errcode": "M_UNKNOWN", "error": "Internal server error"})


def gateway(status: int = 502) -> Fault:
    """What a web server before the homeserver says when that is away: no JSON at all."""
    return Fault(f"gateway {status}", status=status, body="<html><body>Bad Gateway</body></html>")


def too_fast(retry_after_ms: int | None = 100) -> Fault:
    """429, with the wait in the body if there is one."""
    body: dict[str, Any] = {"errcode": "M_LIMIT_EXCEEDED", "error": "Too Many Requests"}
    if retry_after_ms is not None:
        body["retry_after_ms"] = retry_after_ms
    return Fault("too fast", status=429, body=body)


def unknown_token(soft_logout: bool = False) -> Fault:
    """401: the access token was revoked."""
    body = {"errcode": "M_UNKNOWN_TOKEN", "error": "Invalid access token passed.", "soft_logout": soft_logout}
    return Fault("unknown token", status=401, body=body)


def forbidden() -> Fault:
    """403: not in the room, or not allowed there."""
    return Fault("forbidden", status=403, body={"errcode": "M_FORBIDDEN", "error": "You don't have permission"})


def dropped() -> Fault:
    """The connection is closed before the server hears of the request."""
    return Fault("dropped", drop=True)


def lost() -> Fault:
    """The server does what was asked, and the connection is closed before the answer."""
    return Fault("lost", lose=True)


def cut() -> Fault:
    """The server does what was asked, and the connection is closed in the middle of the answer."""
    return Fault("cut", cut=True)


def slow(before: float = 0.0, after: float = 0.0) -> Fault:
    """Seconds on the way there and on the way back."""
    return Fault("slow", before=before, after=after)


def held(until: asyncio.Event) -> Fault:
    """The server hears of the request when the event is set."""
    return Fault("held", until=until)


@dataclass(frozen=True)
class Call:
    """One request. `status` is what the server gave, 0 if it was not asked; `fault` names what was done to it."""

    method: str
    path: str
    status: int
    fault: str = ""


@dataclass
class Script:
    """A fault in force; `left` counts down."""

    method: str
    path: re.Pattern[str]
    fault: Fault
    left: int

    def takes(self, method: str, path: str) -> bool:
        return self.left > 0 and self.method in (method, "*") and self.path.search(path) is not None


@dataclass
class Faults:
    """The line. Clients use `url` in place of the homeserver's own."""

    homeserver: str
    url: str = ""
    calls: list[Call] = field(default_factory=list)
    scripts: list[Script] = field(default_factory=list)

    def script(self, method: str, path: str, fault: Fault, times: int = 1) -> Script:
        """`path` is searched for as a regular expression; `method` may be `*`."""
        script = Script(method, re.compile(path), fault, times)
        self.scripts.append(script)
        return script

    @contextmanager
    def during(self, method: str, path: str, fault: Fault) -> Iterator[Script]:
        """The fault holds as long as the block runs."""
        script = self.script(method, path, fault, FOR_EVER)
        try:
            yield script
        finally:
            self.scripts.remove(script)

    def fair(self) -> None:
        """Nothing fails any more."""
        self.scripts.clear()

    def asked(self, method: str, path: str) -> list[Call]:
        """The calls whose method and path match."""
        return [call for call in self.calls if call.method == method and re.search(path, call.path)]

    async def __aenter__(self) -> Self:
        self._session = aiohttp.ClientSession(
            auto_decompress=False,
            timeout=aiohttp.ClientTimeout(total=None),
            connector=aiohttp.TCPConnector(limit=0, force_close=True),
        )
        server = web.Server(self._answer, access_log=None)
        self._runner = web.ServerRunner(server, shutdown_timeout=0.1)
        await self._runner.setup()
        site = web.TCPSite(self._runner, "127.0.0.1", 0)
        await site.start()
        host, port = self._runner.addresses[0][:2]
        self.url = f"http://{host}:{port}"
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self._runner.cleanup()
        await self._session.close()

    async def _answer(self, request: web.BaseRequest) -> web.StreamResponse:
        method, path = request.method, request.raw_path
        script = next((each for each in self.scripts if each.takes(method, path)), None)
        fault = Fault("") if script is None else script.fault
        if script is not None:
            script.left -= 1
        body = await request.read()
        await pause(fault.before)
        if fault.until is not None:
            await fault.until.wait()
        if fault.drop or fault.status:
            self.calls.append(Call(method, path, 0, fault.name))
            if fault.drop:
                return _hang_up(request)
            if isinstance(fault.body, str):
                return web.Response(status=fault.status, text=fault.body, content_type="text/html")
            return web.json_response(fault.body, status=fault.status)
        headers = [(name, value) for name, value in request.headers.items() if name.lower() not in _HOP_BY_HOP]
        try:
            async with self._session.request(
                method, self.homeserver + path, headers=headers, data=body, allow_redirects=False
            ) as answer:
                given, status, told = await answer.read(), answer.status, answer.headers.items()
        except aiohttp.ClientError:  # the server is away, and so is the line to it
            self.calls.append(Call(method, path, 0, fault.name or "away"))
            return _hang_up(request)
        self.calls.append(Call(method, path, status, fault.name))
        await pause(fault.after)
        if fault.lose:
            return _hang_up(request)
        kept = [(name, value) for name, value in told if name.lower() not in _ON_ITS_WAY_BACK]
        if fault.cut:
            half = web.StreamResponse(status=status, headers=dict(kept))
            half.content_length = len(given)
            await half.prepare(request)
            await half.write(given[: len(given) // 2])
            return _hang_up(request)
        response = web.Response(status=status, body=given)
        response.headers.clear()
        response.headers.extend(kept)
        return response


def _hang_up(request: web.BaseRequest) -> web.StreamResponse:
    """Closes the connection, so that whatever is returned reaches nobody."""
    if request.transport is not None:
        request.transport.abort()
    return web.Response()
