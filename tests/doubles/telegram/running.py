"""Runs the server: in a thread of this process, or as a process of its own that ends with the process that started it.

It listens on the loopback only, on a port that the system picks unless one is named.
"""

import asyncio
import http.client
import json
import math
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from typing import Any

import uvicorn
from starlette.applications import Starlette
from uvicorn.protocols.http.h11_impl import H11Protocol

from tests.doubles.telegram.acts import NotPossible
from tests.doubles.telegram.control import Acts
from tests.doubles.telegram.http import Delivery, Wires, application
from tests.doubles.telegram.people import Telegram
from tests.doubles.telegram.platform import Platform
from tests.doubles.telegram.webhook import carrier
from tests.doubles.telegram.world import Bot

HOST = "127.0.0.1"
#: Seconds without any request after which the server ends itself.
IDLE = 600.0
#: Seconds between looks whether the process that started the server is still there.
_LOOKS_EVERY = 0.25


class Server:
    """One platform behind one port. `run` serves until `stop` is called or nobody has asked for anything for `idle`."""

    def __init__(self, platform: Platform, *, port: int = 0, idle: float = IDLE) -> None:
        self.platform = platform
        self._idle = idle
        self._asked = time.monotonic()
        self._socket = _listen(port)
        self.port: int = self._socket.getsockname()[1]
        wires = Wires()
        delivery = Delivery(platform, wires, self._touch)
        app = application(delivery)
        app.router.lifespan_context = self._lifespan
        # An act cannot be repeated when its connection turns out to be closed: connections last as long as the server.
        config = uvicorn.Config(
            app,
            http=_protocol(wires),
            ws="none",
            loop="asyncio",
            log_config=None,
            access_log=False,
            timeout_keep_alive=math.ceil(idle) + 1,
        )
        self._uvicorn = _Listener(config, wires)

    def run(self) -> None:
        try:
            self._uvicorn.run(sockets=[self._socket])
        finally:
            self._socket.close()

    def stop(self) -> None:
        self.platform.clock.stop()
        self._uvicorn.should_exit = True

    @property
    def is_up(self) -> bool:
        return self._uvicorn.started

    def _touch(self) -> None:
        self._asked = time.monotonic()

    @asynccontextmanager
    async def _lifespan(self, app: Starlette) -> Any:
        """Keeps the carriers of webhooks, the late updates and the idle watch going while the server is up."""
        loop, later = asyncio.get_running_loop(), asyncio.Event()
        tasks: list[asyncio.Task[None]] = []
        clients = []

        def begin(bot: Bot) -> None:
            carries = carrier(self.platform, bot)
            clients.append(carries.client)
            tasks.append(loop.create_task(carries.run()))

        def call_soon(act: Any, *given: Any) -> None:
            with suppress(RuntimeError):  # the loop is closed: the server has ended
                loop.call_soon_threadsafe(act, *given)

        with self.platform.lock:
            known = list(self.platform.world.bots.values())
            self.platform.on_bot = lambda bot: call_soon(begin, bot)
            self.platform.later = lambda: call_soon(later.set)
        for bot in known:
            begin(bot)
        tasks += [loop.create_task(self._release(later)), loop.create_task(self._watch())]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            for client in clients:
                await client.aclose()

    async def _release(self, later: asyncio.Event) -> None:
        while True:
            later.clear()
            with self.platform.lock:
                now = self.platform.clock.now()
                due = self.platform.transit.release(now)
            with suppress(TimeoutError):
                await asyncio.wait_for(later.wait(), None if due is None else max(due - now, 0.001))

    async def _watch(self) -> None:
        while time.monotonic() - self._asked < self._idle:
            await asyncio.sleep(min(1.0, self._idle / 4))
        self.stop()


def _listen(port: int) -> socket.socket:
    """A socket that says it is TCP: on others asyncio leaves small packets waiting for each other, 40 ms an answer."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((HOST, port))
        listening.listen(2048)
    except OSError:
        listening.close()
        raise
    return listening


class _Listener(uvicorn.Server):
    """Hangs up on everybody when it ends: held polls would keep it for as long as they were to last."""

    def __init__(self, config: uvicorn.Config, wires: Wires) -> None:
        super().__init__(config)
        self._wires = wires

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        for transport in list(self._wires.open.values()):
            transport.abort()
        await super().shutdown(sockets)


def _protocol(wires: Wires) -> type[H11Protocol]:
    """HTTP/1.1 that keeps its connections where a cut finds them."""

    class Wire(H11Protocol):
        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            if self.client is not None:
                wires.open[self.client] = transport

        def connection_lost(self, exc: Exception | None) -> None:
            super().connection_lost(exc)
            if self.client is not None:
                wires.open.pop(self.client, None)

    return Wire


class _Here:
    """Acts in this process."""

    def __init__(self, server: Server) -> None:
        self._acts, self._touch = Acts(server.platform), server._touch

    def do(self, act: str, **named: Any) -> Any:
        self._touch()
        return self._acts.do({"act": act} | named)

    def close(self) -> None:
        """There is nothing to hang up."""


class _There:
    """Acts in another process, over one connection a thread."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._local = threading.local()

    def do(self, act: str, **named: Any) -> Any:
        body = json.dumps({"act": act} | named)
        connection = getattr(self._local, "connection", None)
        if connection is None:
            connection = self._local.connection = http.client.HTTPConnection(HOST, self._port, timeout=30)
        try:
            connection.request("POST", "/control", body, {"Content-Type": "application/json"})
            response = connection.getresponse()
            answer = json.loads(response.read())
        except BaseException:
            self.close()
            raise
        if response.status != http.HTTPStatus.OK:
            raise NotPossible(answer["error"])
        return answer

    def close(self) -> None:
        connection = getattr(self._local, "connection", None)
        if connection is not None:
            connection.close()
            self._local.connection = None


@contextmanager
def serve(*, port: int = 0, idle: float = IDLE) -> Iterator[Telegram]:
    """A server in a thread of this process, ready when the block begins and gone when it ends."""
    server = Server(Platform(), port=port, idle=idle)
    thread = threading.Thread(target=server.run, name="fake Bot API", daemon=True)
    thread.start()
    try:
        while not server.is_up:
            if not thread.is_alive():
                raise RuntimeError("the server did not start")
            time.sleep(0.005)
        yield Telegram(_Here(server), server.port)
    finally:
        server.stop()
        thread.join(10)


@contextmanager
def serve_apart(*, port: int = 0, idle: float = IDLE) -> Iterator[Telegram]:
    """A server in a process of its own, which a crash of the bot's process does not touch.

    It ends with the block, and by itself when this process is gone.
    """
    command = [sys.executable, "-m", "tests.doubles.telegram", "--port", str(port), "--idle", str(idle)]
    command += ["--parent", str(os.getpid())]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        try:
            if not line.strip().isdigit():
                raise RuntimeError("the server did not start")
            connected = Telegram(_There(int(line)), int(line))
            try:
                yield connected
            finally:
                connected.close()
        finally:
            process.terminate()


def end_with(parent: int, server: Server) -> None:
    """Stops the server when that process is gone; looks from a thread of its own."""
    is_child = os.getppid() == parent

    def is_there() -> bool:
        """A child is re-parented as soon as its parent ends, which a process's number alone does not tell."""
        if is_child:
            return os.getppid() == parent
        try:
            os.kill(parent, 0)
        except ProcessLookupError:
            return False
        except PermissionError:
            return True
        return True

    def look() -> None:
        while is_there():
            time.sleep(_LOOKS_EVERY)
        server.stop()

    threading.Thread(target=look, name="parent watch", daemon=True).start()
