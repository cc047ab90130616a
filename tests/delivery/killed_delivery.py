"""A delivery that is killed again and again: `python killed_delivery.py FOLDER KILLS SEED`.

Prints one JSON line a kill. The platform is a list of what people send, handed out from the place that the delivery has
kept, and a file to which everything that the delivery sends is appended, and which survives the process that wrote it.
"""

import asyncio
import json
import os
import random
import signal
import sys
import time
from pathlib import Path
from typing import Any

from tests.conversation.guides import shipped_guide
from tests.effort import effort
from tests.store.cluster import use_cluster
from tests.words import words_of
from triagebot.delivery import Delivery
from triagebot.messages import Incoming, Outgoing, Receipt, Said
from triagebot.store import open_store
from triagebot.testing import START

PEOPLE, SAYINGS = 20, effort(12, 60)
SAID = (
    "9 sprockets",
    "it stays still",
    "it turns",
    "4 notches",
    "24 mm",
    "change",
    "1",
    "why",
    "back",
    "restart",
    "no",
)


def script(seed: int) -> list[tuple[str, str]]:
    """Who says what, everybody's messages among those of the others."""
    draw = random.Random(seed)
    return [(f"p{draw.randrange(PEOPLE)}", draw.choice(SAID)) for _ in range(PEOPLE * SAYINGS)]


class Paper:
    """A channel on which a message takes a moment, and stays."""

    name, edits = "paper", False

    def __init__(self, path: Path) -> None:
        self.handle = os.open(path, os.O_CREAT | os.O_WRONLY | os.O_APPEND)

    async def deliver(self, message: Outgoing) -> Receipt:
        await asyncio.sleep(0.001)
        row = {
            "to": message.address["chat"],
            "id": message.id,
            "text": words_of(message.reply).replace(message.case, ""),
        }
        os.write(self.handle, json.dumps(row).encode() + b"\n")
        await asyncio.sleep(0.001)
        return {}

    def harmless_to_repeat(self, kind: str) -> bool:
        return True


async def work(folder: Path, said: list[tuple[str, str]], key_file: Path) -> dict[str, Any]:
    """Receives all that is left, and ends when everything is sent."""
    with open_store(folder, key_file=key_file) as store:
        async with Delivery(shipped_guide(), store, lambda: START) as delivery:
            await delivery.serve(Paper(folder.with_name("paper")))
            place = int(await delivery.place("paper") or 0)
            while place < len(said):
                batch = [
                    Incoming("paper", str(n), person, {"chat": person}, Said(text), START)
                    for n, (person, text) in enumerate(said[place : place + 7], place)
                ]
                await delivery.receive_all(batch, "paper", str(place + len(batch)))
                place += len(batch)
            await delivery.idle()
            return {"unknown": delivery.counts.unknown}


def main(folder: Path, kills: int, seed: int) -> None:
    draw, said, key_file = random.Random(seed), script(seed), folder.with_name("key")
    shipped_guide()
    with open_store(folder, key_file=key_file):
        pass
    for n in range(kills + 1):
        child = os.fork()
        if not child:
            asyncio.run(work(folder, said, key_file))
            os._exit(0)
        if n < kills:
            time.sleep(draw.uniform(0.02, 0.2))
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        print(json.dumps({"killed": os.WIFSIGNALED(status), "status": status}), flush=True)


if __name__ == "__main__":
    use_cluster()
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
