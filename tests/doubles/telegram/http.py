"""The server's HTTP side: requests of bots, downloads of files, and the faults that they meet on the way.

An answer is `{"ok": true, "result": …}` or a refusal with its code; a connection that is cut gets no answer at all.
"""

import asyncio
import io
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl

from python_multipart import parse_form
from python_multipart.exceptions import FormParserError
from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from tests.doubles.telegram import methods, receiving
from tests.doubles.telegram.calls import Call
from tests.doubles.telegram.control import Acts
from tests.doubles.telegram.faults import Fault
from tests.doubles.telegram.methods import METHODS, WAITS
from tests.doubles.telegram.platform import Platform
from tests.doubles.telegram.rules import MOST_UPLOAD, Cut, Refusal
from tests.doubles.telegram.world import Bot, Json

#: The name under which faults meet the download of a file, which is no method.
DOWNLOAD = "download"
BAD_GATEWAY = "<html><head><title>502 Bad Gateway</title></head><body>502 Bad Gateway</body></html>"


@dataclass
class Wires:
    """The open connections by the far end's address, so that one can be cut in the middle of a request."""

    open: dict[tuple[str, int], asyncio.Transport] = field(default_factory=dict)

    def cut(self, client: tuple[str, int]) -> None:
        transport = self.open.get(client)
        if transport is not None:
            transport.abort()


class Hangup(Response):
    """No answer: the connection is cut."""

    def __init__(self, wires: Wires) -> None:
        super().__init__()
        self._wires = wires

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self._wires.cut(scope["client"])
        while (await receive())["type"] != "http.disconnect":
            pass


class HalfOfIt(Response):
    """An answer that breaks off in the middle."""

    def __init__(self, data: bytes, wires: Wires) -> None:
        super().__init__(data, media_type="application/octet-stream")
        self._wires = wires

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
        await send({"type": "http.response.body", "body": self.body[: len(self.body) // 2], "more_body": True})
        self._wires.cut(scope["client"])
        while (await receive())["type"] != "http.disconnect":
            pass


@dataclass
class Delivery:
    """Answers requests; `touch` is told of each, so that an idle server can end itself."""

    platform: Platform
    wires: Wires
    touch: Callable[[], None] = lambda: None

    async def ask(self, request: Request) -> Response:
        self.touch()
        await asyncio.sleep(self.platform.away)
        answer = await self._answer(request)
        await asyncio.sleep(self.platform.away)
        return answer

    async def _answer(self, request: Request) -> Response:
        try:
            params, uploads = await _arguments(request)
            self._check_line()
            token, method = request.path_params["token"], request.path_params["method"].lower()
            bot = self.platform.world.bots.get(token)
            if bot is None:
                raise Refusal("wrong-token" if ":" in token else "not-found")
            if method not in METHODS and method != WAITS:
                raise Refusal("not-found")
            return await self._met(request, Call(self.platform, bot, method, params, uploads))
        except Refusal as refusal:
            return JSONResponse(refusal.answer(), status_code=refusal.code)
        except Cut:
            return Hangup(self.wires)

    def _check_line(self) -> None:
        if self.platform.clock.now() < self.platform.injector.outage_until:
            raise Cut

    async def _met(self, request: Request, call: Call) -> Response:
        """The answer, with the present faults."""
        platform, faults = self.platform, self.platform.injector.faults
        with platform.lock:
            fault, much = platform.injector.fault(call.method, call.bot.user.id)
        if fault == "slow":
            await platform.clock.sleep(much * faults.slow_seconds)
        elif fault in ("500", "502", "429", "lost"):
            with platform.lock:
                platform.record(call.bot, call.method, call.params, None, "", fault)
            return _failed(fault, faults.retry_after)
        try:
            result = await self._applied(request, call, fault or "")
        finally:
            if fault == "cut":
                raise Cut
            self._check_line()
        return JSONResponse({"ok": True, "result": result})

    async def _applied(self, request: Request, call: Call, fault: str) -> Any:
        if call.method == WAITS:
            return await _unless_gone(request, call)
        return self.apply(call, fault)

    def apply(self, call: Call, fault: str = "") -> Any:
        """Does what is asked, under the lock, and records it."""
        with self.platform.lock:
            try:
                result = METHODS[call.method](call)
            except Refusal as refusal:
                self.platform.record(call.bot, call.method, call.params, None, refusal.description, fault)
                raise
            self.platform.record(call.bot, call.method, call.params, result, "", fault)
            return result

    async def download(self, request: Request) -> Response:
        """A file, with the present faults; what is cut breaks off in the middle."""
        self.touch()
        try:
            self._check_line()
            bot: Bot | None = self.platform.world.bots.get(request.path_params["token"])
            data = None if bot is None else methods.download(bot, request.path_params["path"])
            if bot is None or data is None:
                raise Refusal("not-found" if bot else "wrong-token")
            with self.platform.lock:
                fault, much = self.platform.injector.fault(DOWNLOAD, bot.user.id)
            faults = self.platform.injector.faults
            if fault == "slow":
                with self.platform.lock:
                    self.platform.record(bot, DOWNLOAD, {}, None, "", fault)
                await self.platform.clock.sleep(much * faults.slow_seconds)
                self._check_line()
            elif fault == "cut":
                return HalfOfIt(data, self.wires)
            elif fault is not None:
                return _failed(fault, faults.retry_after)
            return Response(data, media_type="application/octet-stream")
        except Refusal as refusal:
            return JSONResponse(refusal.answer(), status_code=refusal.code)
        except Cut:
            return Hangup(self.wires)

    async def control(self, request: Request) -> Response:
        """`{"act": name, …}` or a list of them; the answer is the act's result, or a list of them."""
        self.touch()
        acts = Acts(self.platform)
        given = json.loads(await request.body())
        try:
            done = [acts.do(each) for each in given] if isinstance(given, list) else acts.do(given)
        except Exception as error:  # whatever a scripted person did wrong is told to the person who wrote the script
            return JSONResponse({"error": f"{type(error).__name__}: {error}"}, status_code=400)
        return JSONResponse(done)


def _failed(fault: Fault | None, retry_after: int) -> Response:
    if fault == "502":
        return Response(BAD_GATEWAY, status_code=502, media_type="text/html")
    if fault == "500":
        raise Refusal("server-error")
    if fault == "429":
        raise Refusal("too-many", seconds=retry_after, parameters={"retry_after": retry_after})
    raise Cut


async def _unless_gone(request: Request, call: Call) -> list[Json]:
    """Polls, and stops when the client hangs up."""
    asked = asyncio.ensure_future(receiving.get_updates(call))
    gone = asyncio.ensure_future(request.receive())
    try:
        await asyncio.wait({asked, gone}, return_when=asyncio.FIRST_COMPLETED)
        if not asked.done():
            raise Cut
        return asked.result()
    finally:
        for task in (asked, gone):
            task.cancel()


async def _arguments(request: Request) -> tuple[Json, dict[str, bytes]]:
    """Arguments from the address and the body, which may be a form, a form with files, or JSON."""
    params: Json = dict(request.query_params)
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    try:
        body = await request.body()
    except ClientDisconnect:
        raise Cut from None
    if len(body) > MOST_UPLOAD + 1_000_000:
        raise Refusal("too-large")
    uploads: dict[str, bytes] = {}
    try:
        if kind == "application/json":
            given = json.loads(body or b"{}")
            params |= given if isinstance(given, dict) else {}
        elif kind == "application/x-www-form-urlencoded":
            params |= dict(parse_qsl(body.decode(), keep_blank_values=True))
        elif kind == "multipart/form-data":
            params |= _form(request.headers["content-type"], body, uploads)
    except (ValueError, FormParserError):
        raise Refusal("not-json", name="request") from None
    return params, uploads


def _form(content_type: str, body: bytes, uploads: dict[str, bytes]) -> Json:
    params: Json = {}

    def on_field(given: Any) -> None:
        params[given.field_name.decode()] = (given.value or b"").decode()

    def on_file(given: Any) -> None:
        given.file_object.seek(0)
        uploads[given.field_name.decode()] = given.file_object.read()
        given.close()

    headers = {"Content-Type": content_type.encode(), "Content-Length": str(len(body)).encode()}
    parse_form(headers, io.BytesIO(body), on_field, on_file)
    return params


def application(delivery: Delivery) -> Starlette:
    """The routes of the Bot API, its files, and the acts of people."""
    return Starlette(
        routes=[
            Route("/bot{token}/{method}", delivery.ask, methods=["GET", "POST"]),
            Route("/file/bot{token}/{path:path}", delivery.download, methods=["GET"]),
            Route("/control", delivery.control, methods=["POST"]),
        ]
    )
