"""The pages on three ports, for the bench of them: `python -m tests.bench.pages_server FOLDER`.

Prints one line of JSON: the port of the whole app; that of a bare Starlette route which renders the same note with the
same template at each request; and that of a bare route which gives that note's bytes as they are. Ends when its input
does.
"""

import asyncio
import json
import socket
import sys
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from triagebot.conversation import Guide, load_guide
from triagebot.delivery import Delivery
from triagebot.pages import Limits, app, chatting
from triagebot.pages.glance import glances
from triagebot.pages.notes import Book
from triagebot.pages.site import Site
from triagebot.rates import Rate
from triagebot.shop import built_in_shop, load_shop
from triagebot.store import open_store
from triagebot.topics import built_in_topic, load_topic

NOTE = "freewheel-4-notch-24"
UNLIMITED = Limits(reading=Rate(1e9, 1e9), writing=Rate(1e9, 1e9))


def bare(guide: Guide, site: Site) -> tuple[Starlette, Starlette]:
    """Nothing but the framework, and the framework with the template."""
    book = Book(site)
    note = book.notes[NOTE]

    def rendered(request: Request) -> bytes:
        reader = site.reader(request)
        return site.render(
            reader,
            "note.html",
            note=note,
            html=book.html(note, reader),
            glances=glances(guide, reader, note),
            review=book.review(note, reader),
            siblings=book.siblings(note),
            elsewhere=None,
        )

    kept: list[bytes] = []

    async def at_each_request(request: Request) -> Response:
        return Response(rendered(request), media_type="text/html")

    async def once(request: Request) -> Response:
        if not kept:
            kept.append(rendered(request))
        return Response(kept[0], media_type="text/html")

    return tuple(Starlette(routes=[Route("/note", each)]) for each in (at_each_request, once))  # type: ignore[return-value]


async def serve(folder: Path) -> None:
    topic = load_topic(built_in_topic())
    guide = load_guide(topic, load_shop(built_in_shop(), topic))
    with open_store(folder / "data", key_file=folder / "key") as store:
        async with Delivery(guide, store) as delivery:
            whole = app(guide, delivery, store, limits=UNLIMITED)
            site: Site = whole.state.site
            listening, ports = [], []
            for each in (whole, *bare(guide, site)):
                door = socket.create_server(("127.0.0.1", 0))
                # What accepts inherits it; without, the second half of an answer waits 40 ms for the first's receipt.
                door.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                ports.append(door.getsockname()[1])
                config = uvicorn.Config(each, log_config=None, access_log=False, lifespan="off", ws="none")
                listener = uvicorn.Server(config)
                listening.append((listener, asyncio.create_task(listener.serve(sockets=[door]))))
            async with chatting(whole):
                print(json.dumps(ports), flush=True)
                await asyncio.to_thread(sys.stdin.read)
            for listener, _ in listening:
                listener.should_exit = True
            await asyncio.gather(*(task for _, task in listening))


if __name__ == "__main__":
    asyncio.run(serve(Path(sys.argv[1])))
