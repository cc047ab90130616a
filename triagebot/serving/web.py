"""The door on this machine, and the server behind it."""

import asyncio
import socket
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress

import uvicorn
from starlette.applications import Starlette

from triagebot.errors import SettingsError
from triagebot.pages.connections import Connections
from triagebot.settings import Settings


@asynccontextmanager
async def serving_pages(pages: Starlette, door: socket.socket) -> AsyncIterator[None]:
    listener = _Listener(pages)
    running = asyncio.create_task(listener.serve(sockets=[door]))
    try:
        yield
    finally:
        listener.should_exit = True
        with suppress(asyncio.CancelledError):
            await running


def host_in_address(host: str) -> str:
    """A host as it stands in an address."""
    return f"[{host}]" if ":" in host else host


def listening(settings: Settings) -> socket.socket:
    """A door on this machine. Raises SettingsError when it cannot be had."""
    host, port = settings.web_host, settings.web_port
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        door = socket.create_server((host, port), family=family, backlog=1024)
    except OSError as error:
        raise SettingsError(
            f"port {port} of {host} cannot be had ({error.strerror or error}); "
            "set another one (TRIAGEBOT_WEB_PORT, TRIAGEBOT_WEB_HOST)"
        ) from error
    door.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)  # else an answer in two pieces waits some 40 ms
    return door


class _Listener(uvicorn.Server):
    """Leaves signals to us."""

    def __init__(self, pages: Starlette) -> None:
        quiet = {
            "log_config": None,
            "access_log": False,
            "ws": "none",
            "lifespan": "off",
            "http": Connections().protocol,
        }
        config = uvicorn.Config(pages, timeout_graceful_shutdown=5, server_header=False, **quiet)  # type: ignore[arg-type]
        super().__init__(config)

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield
