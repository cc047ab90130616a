"""How many durable turns a second the delivery takes, and how long one takes: `python -m tests.bench.bench_delivery`.

A turn is durable when message, events and reply are on the disk, and the reply has gone out and is marked so on the
disk as well. The channel takes every message at once, so that all the time is the delivery's own.
"""

import argparse
import asyncio
import platform
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from tests.conversation.guides import shipped_guide
from triagebot.conversation import Message
from triagebot.delivery import Delivery, WaitingClient
from triagebot.messages import Incoming, Outgoing, Receipt, Said
from triagebot.store import Store, open_store

SAID = ("it is out", "9", "no name", "it stays still", "notches", "four of them", "24 mm with a calliper", "thanks")
AT = datetime(2026, 3, 1, 12, tzinfo=UTC)


@dataclass
class Waiting:
    """A channel that takes everything at once and tells the person who waits for it."""

    name: str = "bench"
    edits: bool = False
    taken: dict[str, "asyncio.Future[None]"] = field(default_factory=dict)

    async def deliver(self, message: Outgoing) -> Receipt:
        self.taken.pop(message.address["chat"]).set_result(None)
        return {"message": message.id}

    def harmless_to_repeat(self, kind: str) -> bool:
        return True


@contextmanager
def fresh_store() -> Iterator[Store]:
    with (
        tempfile.TemporaryDirectory() as place,
        open_store(Path(place) / "data", key_file=Path(place) / "key") as store,
    ):
        yield store


async def talk(delivery: Delivery, channel: Waiting, person: str, took: list[float]) -> None:
    for number, text in enumerate(SAID):
        began = time.perf_counter()
        channel.taken[person] = answered = asyncio.get_running_loop().create_future()
        said = Incoming(channel.name, f"{person}-{number}", person, {"chat": person}, Said(text), AT)
        await delivery.receive(said)
        await answered
        took.append(time.perf_counter() - began)


async def delivery_of(people: int, store: Store, *, edits: bool) -> tuple[float, list[float]]:
    channel, took = Waiting(edits=edits), list[float]()
    async with Delivery(shipped_guide(), store) as delivery:
        await delivery.serve(channel)
        began = time.perf_counter()
        await asyncio.gather(*(talk(delivery, channel, f"p{n}", took) for n in range(people)))
        await delivery.idle()
        spent = time.perf_counter() - began
    assert delivery.counts.sent == people * len(SAID)
    return people * len(SAID) / spent, took


def waiting_client_of(people: int, store: Store) -> float:
    waiting_client = WaitingClient(shipped_guide(), store)
    began = time.perf_counter()
    for text in SAID:
        for n in range(people):
            waiting_client.hear(f"lines:p{n}", Message(text), "en")
    return people * len(SAID) / (time.perf_counter() - began)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, nargs="*", default=[1, 10, 50, 200])
    shipped_guide()
    print(f"Python {platform.python_version()}, {len(SAID)} messages a person, each after the reply to the one before")
    print(f"{'people':>8}{'turns/s':>10}{'median':>10}{'99 %':>10}")
    for people in parser.parse_args().people:
        with fresh_store() as store:
            rate, took = asyncio.run(delivery_of(people, store, edits=False))
        took.sort()
        middle, late = took[len(took) // 2], took[int(len(took) * 0.99)]
        print(f"{people:>8}{rate:>10.0f}{middle * 1e3:>7.1f} ms{late * 1e3:>7.1f} ms")
    with fresh_store() as store:
        print(f"one after another, as over JSON lines: {waiting_client_of(40, store):.0f} turns/s")


if __name__ == "__main__":
    main()
