"""Who opens connections and asks for nothing keeps nobody else from the pages."""

import asyncio
import errno
import logging
import resource
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest
import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from triagebot.pages.connections import Connections, HandlesLogged, Limits, limits_here

HANGS = 60.0


async def hello(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"{len(await request.body())} bytes")


@contextmanager
def served(limits: Limits) -> Iterator[tuple[str, int]]:
    """A server with these limits; where it is."""
    app = Starlette(routes=[Route("/", hello, methods=["GET", "POST"])])
    config = uvicorn.Config(app, http=Connections(limits).protocol, lifespan="off", log_config=None)  # type: ignore[arg-type]
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as door:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]})
        thread.start()
        try:
            yield door.getsockname()
        finally:
            server.should_exit = True
            thread.join(HANGS)


@contextmanager
def opened(where: tuple[str, int], count: int, first: bytes = b"") -> Iterator[list[socket.socket]]:
    made = [socket.create_connection(where, HANGS) for _ in range(count)]
    for each in made:
        each.sendall(first)
    try:
        yield made
    finally:
        for each in made:
            each.close()


def is_closed(connection: socket.socket) -> bool:
    """Waits until the other side closes it."""
    connection.settimeout(HANGS)
    try:
        return connection.recv(1) == b""
    except ConnectionError:
        return True


@pytest.mark.parametrize("first", [b"", b"GET / HTTP/1.1\r\nHost: "])
def test_others_are_served_beside_more_connections_than_there_may_be(first: bytes) -> None:
    with served(Limits(most=10, idle=HANGS, look=HANGS)) as where, opened(where, 40, first) as made:
        for _ in range(5):
            assert httpx.get(f"http://{where[0]}:{where[1]}/", timeout=HANGS).text == "0 bytes"
        assert all(is_closed(each) for each in made[:30])  # those that have idled longest


def test_who_asks_for_nothing_is_let_go() -> None:
    with served(Limits(idle=0.05, look=0.05)) as where, opened(where, 3) as made:
        assert all(map(is_closed, made))


def test_a_request_that_never_ends_is_let_go() -> None:
    first = b"POST / HTTP/1.1\r\nHost: here\r\nContent-Length: 1000\r\n\r\nhello"
    with served(Limits(idle=HANGS, slow=0.05, look=0.05)) as where, opened(where, 2, first) as made:
        assert all(map(is_closed, made))


def test_a_connection_goes_on_as_long_as_it_is_used() -> None:
    with served(Limits(most=2)) as where, httpx.Client(base_url=f"http://{where[0]}:{where[1]}") as client:
        assert [client.post("/", content=b"x" * n).text for n in range(4)] == [f"{n} bytes" for n in range(4)]


def test_running_out_of_file_handles_is_one_line(caplog: pytest.LogCaptureFixture) -> None:
    now = [1000.0]
    handler, loop = HandlesLogged(lambda: now[0]), asyncio.new_event_loop()
    with caplog.at_level(logging.ERROR):
        for _ in range(5000):
            handler(loop, {"message": "socket.accept() out of system resource", "exception": OSError(errno.EMFILE, "")})
        assert len(caplog.records) == 1
        now[0] += 601
        handler(loop, {"message": "the same", "exception": OSError(errno.ENFILE, "")})
        assert len(caplog.records) == 2
        handler(loop, {"message": "something else went wrong"})
    loop.close()
    assert "something else went wrong" in caplog.records[-1].getMessage()


def test_half_of_the_file_handles_are_left_for_everything_else(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resource, "getrlimit", lambda what: (300, 300))
    assert limits_here() == Limits(most=150)
    monkeypatch.setattr(resource, "getrlimit", lambda what: (65_536, 65_536))
    assert limits_here() == Limits()
    monkeypatch.setattr(resource, "getrlimit", lambda what: (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    assert limits_here() == Limits()
