"""The whole web app on a real port, with its delivery and store, in a thread of this process; it can be stopped and
started again on the same port and the same data."""

import asyncio
import socket
import threading
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any, TypeVar

import uvicorn
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tests.store.fresh import open_fresh
from triagebot.conversation import Guide
from triagebot.delivery import Delivery
from triagebot.pages import Limits, app, chatting
from triagebot.rates import Rate
from triagebot.store import Store

T = TypeVar("T")

#: Tests ask more often than people do.
HURRIED = Limits(reading=Rate(10_000, 1000), writing=Rate(10_000, 1000))


class Served:
    """`address` is where it is; `delivery` and `store` are those that run now. Without `cookies`, none reach the
    browser, as where they are refused."""

    def __init__(self, guide: Guide, folder: Path, **given: Any) -> None:
        self.guide, self.folder = guide, folder
        self.given: dict[str, Any] = {"limits": HURRIED, **given}
        self.port = 0
        self.cookies = True
        self.delivery: Delivery
        self.store: Store

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> "Served":
        ready: threading.Event = threading.Event()
        self._fault: BaseException | None = None
        self._thread = threading.Thread(target=self._run, args=(ready,), name="served")
        self._thread.start()
        ready.wait(30)
        if self._fault is not None:
            raise self._fault
        return self

    def stop(self) -> None:
        """Ends as the program does when it is told to."""
        self._loop.call_soon_threadsafe(self._stopping.set)
        self._thread.join(20)
        assert not self._thread.is_alive(), "it does not stop"

    def do(self, work: Callable[[], Coroutine[Any, Any, T]]) -> T:
        """Something that runs where the delivery does."""
        return asyncio.run_coroutine_threadsafe(work(), self._loop).result(30)

    def _around(self, pages: ASGIApp) -> ASGIApp:
        async def ask(scope: Scope, receive: Receive, send: Send) -> None:
            async def answer(message: Message) -> None:
                if not self.cookies and "headers" in message:
                    message["headers"] = [row for row in message["headers"] if row[0] != b"set-cookie"]
                await send(message)

            await pages(scope, receive, answer)

        return ask

    def _run(self, ready: threading.Event) -> None:
        try:
            asyncio.run(self._serve(ready))
        except BaseException as fault:
            self._fault = fault
            ready.set()
            raise

    async def _serve(self, ready: threading.Event) -> None:
        self._loop, self._stopping = asyncio.get_running_loop(), asyncio.Event()
        with open_fresh(self.folder, self.folder.with_name(f"{self.folder.name}.key")) as self.store:
            async with Delivery(self.guide, self.store) as self.delivery:
                pages = app(self.guide, self.delivery, self.store, **self.given)
                door = _door(self.port)
                self.port = door.getsockname()[1]
                config = uvicorn.Config(
                    self._around(pages), log_config=None, lifespan="off", ws="none", timeout_graceful_shutdown=5
                )
                listener = _Listener(config)
                listening = asyncio.create_task(listener.serve(sockets=[door]))
                async with chatting(pages):
                    while not listener.started:
                        await asyncio.sleep(0.005)
                    ready.set()
                    await self._stopping.wait()
                listener.should_exit = True
                await listening


class _Listener(uvicorn.Server):
    def install_signal_handlers(self) -> None:
        """Signals are for the person who runs the tests."""


def _door(port: int) -> socket.socket:
    door = socket.create_server(("127.0.0.1", port), backlog=100)
    door.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return door
