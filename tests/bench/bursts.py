"""One person who sends a great many messages at once, and a bystander: `python -m tests.bench.bursts`."""

import asyncio
import time
from dataclasses import dataclass, field
from statistics import median

from tests.bench.bench_delivery import AT, fresh_store
from tests.conversation.guides import shipped_guide
from triagebot.delivery import Delivery
from triagebot.messages import Incoming, Outgoing, Receipt, Said
from triagebot.rates import CAPS, Buckets, Cap, Floods, Rate

#: What the flood says, again and again: answers, one of them changed, one taken back.
TEXTS = ("4", "back", "it stays still", "9 sprockets i think")


@dataclass
class Taking:
    """A channel that delivers at once and wakes the caller waiting for that conversation's answer."""

    name: str = "bench"
    edits: bool = False
    waiting: dict[str, "asyncio.Future[None]"] = field(default_factory=dict)

    async def deliver(self, message: Outgoing) -> Receipt:
        if (waiting := self.waiting.pop(message.address["chat"], None)) is not None:
            waiting.set_result(None)
        return {"message": message.id}

    def harmless_to_repeat(self, kind: str) -> bool:
        return True


def said(channel: Taking, person: str, number: int) -> Incoming:
    return Incoming(
        channel.name, f"{person} {number}", person, {"chat": person}, Said(TEXTS[number % len(TEXTS)]), AT
    )  # fmt: skip


def hear_everything(delivery: Delivery) -> None:
    """Has the bot take a turn on every message: else it soon stops talking with what writes so fast."""
    delivery._inbox.turns.loops._pace = Buckets(Rate(1e6, 1e6), 1000)
    delivery._floods = Floods({kind: Cap(Rate(1e6, 1e6), "as much as there is") for kind in CAPS})


async def burst(size: int, share: int) -> list[float]:
    """Processor time (ms) of a message, for each `share` of a burst that comes all at once."""
    with fresh_store() as store:
        channel = Taking()
        async with Delivery(shipped_guide(), store) as delivery:
            await delivery.serve(channel)
            await delivery.receive(said(channel, "warm-up", 0))
            await delivery.idle()
            hear_everything(delivery)
            tasks = [asyncio.create_task(delivery.receive(said(channel, "flood", each))) for each in range(size)]
            took, before = [], time.process_time()
            for begin in range(0, size, share):
                await asyncio.gather(*tasks[begin : begin + share])
                now = time.process_time()
                took.append((now - before) / share * 1e3)
                before = now
            await delivery.idle()
    return took


async def bystander(messages: int, *, flood: int) -> list[float]:
    """Wall time (ms) until each message of a bystander is answered, while somebody's burst is being worked off; with a
    `flood` of 0, nobody else writes."""
    with fresh_store() as store:
        channel, took = Taking(), list[float]()
        async with Delivery(shipped_guide(), store) as delivery:
            await delivery.serve(channel)
            hear_everything(delivery)
            tasks = [asyncio.create_task(delivery.receive(said(channel, "flood", each))) for each in range(flood)]
            await asyncio.sleep(0)
            for number in range(messages):
                began = time.perf_counter()
                channel.waiting["me"] = answered = asyncio.get_running_loop().create_future()
                await delivery.receive(said(channel, "me", number))
                await answered
                took.append((time.perf_counter() - began) * 1e3)
                await asyncio.sleep(0.03)
            assert not flood or not tasks[-1].done(), "the burst was over before the bystander was"
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            await delivery.idle()
    return took[4:]


def main() -> None:
    took = asyncio.run(burst(1000, 100))
    print("one person's thousand messages, ms of the processor a message:", *(f"{each:.1f}" for each in took))
    idle, flooded = asyncio.run(bystander(60, flood=0)), asyncio.run(bystander(60, flood=3000))
    for name, times in (("idle", idle), ("beside a flood", flooded)):
        print(f"a bystander, {name}: median {median(times):.1f} ms, longest {max(times):.1f} ms")


if __name__ == "__main__":
    main()
