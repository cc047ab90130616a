"""Thirty strings that people leave in every way there is: each is kept while it is wanted, and once they are forgotten
nobody finds one of them who has every file and every key.

What a platform hands over (an update of Telegram's, an event of Matrix's, a form of the page, a line of JSON) is read
as the channels read it. Everything else is as it is in a shop.
"""

import json
import logging
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from prometheus_client import generate_latest

from tests.counter.shop import Shop
from tests.counter.waiting import ADA, BOB, CYD
from tests.store.opened import bytes_in, opened
from triagebot.channels.lines import talk
from triagebot.channels.matrix.events import EventReader
from triagebot.channels.matrix.reading import Reader as MatrixReader
from triagebot.channels.matrix.seen import Room
from triagebot.channels.telegram.reading import Reader as TelegramReader
from triagebot.conversation import Message
from triagebot.delivery import WaitingClient
from triagebot.delivery.metrics import registry_of
from triagebot.keeping import restore_backup, take_backup
from triagebot.messages import Incoming, Sent
from triagebot.pages.chat_said import _object, incoming, read
from triagebot.pages.chat_visitor import Visitor
from triagebot.store import open_store

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
STRINGS = tuple(f"qzx{first}{second}nthrop" for first in "aeiouy" for second in "bdfgk")
SENT = {"file": "one"}
BORROWER = "name of a borrower"
#: What may be thrown away as soon as it is read.
NEVER_KEPT = {
    *("name on Telegram", "name on Matrix", "name of a file"),
    *("caption, telegram", "line to nobody", "said to the bot"),
}


class Planted:
    """Hands out the strings, each once, and remembers where it went."""

    def __init__(self) -> None:
        self.where: dict[str, str] = {}
        self._left = list(STRINGS)

    def __call__(self, where: str) -> str:
        string = self._left.pop(0)
        self.where[string] = where
        return string


class People:
    """All who leave something, in one shop."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.planted, self.keys = folder, Planted(), iter(range(1, 1 << 20))
        self.shop = Shop(folder)
        self.client = WaitingClient(self.shop.guide, self.shop.store.store, self.shop.clock, self.shop.codes)
        self.telegram = TelegramReader(7, "a_bot", "en", ("en",))
        self.events = EventReader("@wheels:shop.test", "Wheel Bot")
        self.matrix = MatrixReader("@wheels:shop.test", "Wheel Bot", "en", ("en",), {})
        self.visitor = Visitor("secret", "web-visitor", "tag")
        self.names = {name: self.planted(name) for name in ("name on Telegram", "name on Matrix", "name of a file")}

    # --- each channel's own way -----------------------------------------------------------------------------------

    def on_terminal(self, text: str) -> None:
        self.client.hear("terminal:me", Message(text), "en")

    def on_lines(self, text: str) -> None:
        for answer in talk(self.client, [json.dumps({"person": "p1", "text": text})], "en"):
            assert "error" not in json.loads(answer), answer

    def _receive(self, message: Incoming | None) -> None:
        assert message is not None
        self.shop.clock.wait(minutes=1)
        self.shop.run(self.shop.delivery.receive(replace(message, at=self.shop.clock())))

    def on_telegram(self, **content: Any) -> None:
        number = next(self.keys)
        who = {"id": 77, "is_bot": False, "first_name": self.names["name on Telegram"]}
        chat = {"id": 77, "type": "private", "first_name": who["first_name"]}
        body = {"message_id": number, "date": 1790000000, "chat": chat, "from": who, **content}
        self._receive(self.telegram.safely({"update_id": number, "message": body}).incoming)

    def on_matrix(self, body: str, **content: Any) -> None:
        room = Room("!direct", "!direct", direct=True, encrypted=False)
        raw = {
            "type": "m.room.message", "event_id": f"${next(self.keys)}", "sender": "@cyd:shop.test",
            "origin_server_ts": 1790000000000, "content": {"msgtype": "m.text", "body": body, **content},
        }  # fmt: skip
        seen = self.events.read(raw, room, self.names["name on Matrix"], NOW)
        assert seen is not None
        for message in self.matrix.read(seen):
            self._receive(message)

    def on_page(self, text: str) -> None:
        said = read(_object(json.dumps({"text": text}).encode()))
        assert said.content is not None
        self._receive(incoming(self.visitor, said.content, said.key, "en", NOW, words=text))

    # --- what they leave ------------------------------------------------------------------------------------------

    def leave(self) -> tuple[str, str]:
        """Everybody leaves something everywhere; gives the codes of Bob's case and of the bike."""
        shop, plant = self.shop, self.planted
        for channel in (self.on_terminal, self.on_lines, self.on_page, self.on_matrix):
            name = channel.__name__.removeprefix("on_")
            channel(f"it stays still, 4 notches, {plant(f'said beside an answer, {name}')}")
            channel("person")
            channel(f"it is {plant(f'said to the staff, {name}')} as you know")
        self.on_telegram(text="it stays still, 4 notches")
        self.on_telegram(text="person")
        self.on_telegram(text=f"my {plant('said to the staff, telegram')} rattles")
        photo = [{"file_id": plant("file of a photo, telegram"), "file_unique_id": "u", "width": 9, "height": 9}]
        self.on_telegram(photo=photo, caption=f"see {plant('caption, telegram')}")
        self.on_matrix(
            self.names["name of a file"], msgtype="m.image", url=f"mxc://shop.test/{plant('file of a photo, matrix')}",
            info={"size": 3},
        )  # fmt: skip

        shop.staff(ADA)
        code = shop.needs_a_person(BOB)
        shop.says(BOB, f"call me {plant('said to the staff')}")
        shop.says(BOB, Sent("photo", (SENT,), note=f"a {plant('caption')}"))
        shop.says(ADA, f"note {code} he is {plant('note of the staff')}")
        shop.says(ADA, f"claim {code}")
        shop.says(ADA, f"say {code} dear {plant('said by the staff')}, come in")
        shop.brings(ADA, Sent("photo", (SENT,), note=f"say {code} look at {plant('caption of the staff')}"))
        shop.says(ADA, f"lend the small four to Mr {plant(BORROWER)}")
        shop.says(ADA, f"new {plant('name of a bike')} tourer, {plant('owner of a bike')}, thursday")
        bike = next(c for c in self._codes() if c != code and self._is_bike(c))
        shop.says(ADA, f"note {bike} ring {plant('note on a bike')}")
        shop.says(ADA, f"{plant('line to nobody')}?")
        shop.says(CYD, f"is {plant('question')} any good?")
        shop.says(CYD, f"I'm helping {plant('name of a rider')}")
        while len(self.planted.where) < len(STRINGS):
            shop.says(CYD, f"my {plant('said to the bot')} has 6 sprockets")
        return code, bike

    def _codes(self) -> list[str]:
        return [code for (code,) in self.shop.rows("cases", "code")]

    def _is_bike(self, code: str) -> bool:
        with self.shop.reading() as view:
            stored = view.case_by_code(code)
            assert stored is not None
            found = view.connection.exec_driver_sql("SELECT 1 FROM bikes WHERE case_id = ?", (stored.id,)).first()
            return found is not None

    def forgotten(self, code: str, bike: str) -> None:
        """All of them ask to be forgotten; the staff delete the bike, and the tool comes home."""
        shop = self.shop
        for who in (BOB, CYD):
            shop.says(who, "forget me")
            shop.says(who, "yes")
        for words in ("forget me", "yes"):
            self.on_terminal(words)
            self.on_lines(words)
            self.on_page(words)
            self.on_matrix(words)
            self.on_telegram(text=words)
        shop.says(ADA, "returned the small four")
        for _ in range(2):
            shop.says(ADA, f"forget {bike}")


@pytest.fixture
def people(tmp_path: Path) -> Iterator[People]:
    people = People(tmp_path)
    yield people
    people.shop.end()


def found(raw: bytes, people: People, cipher: Any) -> dict[str, str]:
    """The strings that somebody finds, and where each was planted."""
    everything = opened(raw, cipher)
    return {string: where for string, where in people.planted.where.items() if string.encode() in everything}


def test_what_was_planted_is_nowhere_once_everybody_is_forgotten(
    people: People, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG, "triagebot")
    data, key = tmp_path / "data", tmp_path / "key"
    code, bike = people.leave()
    cipher = people.shop.store.store.cipher

    def left(folder: Path) -> set[str]:
        return set(found(bytes_in(folder), people, cipher).values())

    assert left(data) | NEVER_KEPT == set(people.planted.where.values())
    before, after = tmp_path / "before.backup", tmp_path / "after.backup"
    take_backup(data, key, before, NOW)
    people.forgotten(code, bike)
    assert left(data) == {BORROWER}, "who has no case asks nobody to be forgotten: their name goes with its days"
    people.shop.clock.wait(days=400)
    assert people.shop.tidied(days=30) > 0
    assert left(data) == set()

    told = generate_latest(registry_of(people.shop.delivery._inbox.counts)) + caplog.text.encode()
    assert found(told, people, cipher) == {}
    take_backup(data, key, after, NOW)
    for file, still in ((before, {BORROWER}), (after, set())):
        there = tmp_path / file.stem
        restore_backup(file, there, key)
        assert left(there) == still, file.name
        with open_store(there, key_file=key):
            assert left(there) == still, file.name
