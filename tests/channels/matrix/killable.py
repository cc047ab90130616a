"""A bot in a process of its own, to be killed at any moment: answers every message with `re: …`, as the delivery does:
what a sync brought is kept together with its place, and answers carry an id that is the same after a crash.
"""

import asyncio
import json
from pathlib import Path
from typing import Any

from tests.channels.matrix.conftest import PASSWORD
from triagebot.channels.matrix.connection import Connection, MatrixAway
from triagebot.messages.message import Undelivered
from triagebot.store.encryption import Cipher

#: It is killed with whatever it holds, so a key that everybody knows will do.
CIPHER = Cipher((b"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=",), bytes(32))
BOOK = "book.json"


class Book:
    """All that is written down: the place, what was seen by its id, and which of it is still to be answered."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / BOOK
        self.held: dict[str, Any] = {"place": None, "seen": {}, "unanswered": {}}
        if self._path.exists():
            self.held = json.loads(self._path.read_text(encoding="utf-8"))

    def write(self) -> None:
        draft = self._path.with_suffix(".draft")
        draft.write_text(json.dumps(self.held), encoding="utf-8")
        draft.replace(self._path)


async def live(url: str, user: str, folder: Path) -> None:
    book = Book(folder)
    connection = Connection(url, user, folder, CIPHER, password=PASSWORD)
    while True:
        try:
            await connection.open()
            break
        except MatrixAway:
            await asyncio.sleep(0.1)
    while True:
        for event, (room, text) in list(book.held["unanswered"].items()):
            content = {"msgtype": "m.text", "body": f"re: {text}"}
            try:
                await connection.send(room, "m.room.message", content, f"re-{event}")
            except Undelivered:
                await asyncio.sleep(0.1)
                continue
            del book.held["unanswered"][event]
            book.write()
        try:
            result = await connection.sync(book.held["place"])
        except MatrixAway:
            await asyncio.sleep(0.1)
            continue
        for invite in result.invites:
            await connection.join(invite.room)
        for seen in result.seen:
            if seen.kind == "words" and seen.id not in book.held["seen"]:
                book.held["seen"][seen.id] = seen.text
                book.held["unanswered"][seen.id] = (seen.room.id, seen.text)
        book.held["place"] = result.place
        book.write()


def begin(url: str, user: str, folder: Path) -> None:
    """What the process does, until it is killed."""
    asyncio.run(live(url, user, folder))
