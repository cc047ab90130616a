"""Customers and staff on Telegram: a case gets a topic in the staff's room, and what both say passes both ways."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
import pytest_asyncio

from tests.channels.telegram.stage import Booth, fresh_token, polling
from triagebot.staff import invite
from triagebot.testing_telegram import Person, Screen, Shown, Telegram

pytestmark = pytest.mark.asyncio


@dataclass
class Workshop:
    """A bot, the room of the staff, Ada who is one of them, Eve who is only in the room, and Bob who has a wheel."""

    booth: Booth
    room: int
    ada: Person
    eve: Person
    bob: Person

    async def admit(self, who: Person, name: str) -> None:
        with self.booth.store.begin() as tx:
            code = invite(tx, "staff", name, datetime.now(UTC))
        before = len(who.screen().from_bots)
        who.start(code)
        await who.watch(lambda screen: len(screen.from_bots) > before)

    async def says(self, who: Person, text: str) -> Screen:
        """Somebody writes in private."""
        who.write(text)
        await self.booth.quiet()
        return who.screen()

    async def asks(self) -> str:
        """Bob tells what he sees, and asks for a person; gives the code of his case."""
        await self.says(self.bob, "it stays still, 4 notches, about 40 mm")
        screen = await self.says(self.bob, "can I talk to somebody?")
        return next(m.text for m in screen.from_bots if "case code is" in m.text).split("case code is ")[1][:7]

    @property
    def laid_out(self) -> list[Shown]:
        """What the bot has written in the room."""
        return [m for m in self.ada.screen(chat=self.room).from_bots if m.kind != "service"]

    async def answers(self, text: str, to: Shown | None = None, who: Person | None = None) -> int:
        """A reply to the last message of the bot's in the room, or to the one that is given."""
        to = to or self.laid_out[-1]
        number = (who or self.ada).write(text, chat=self.room, thread=to.thread, reply_to=to.id)
        await self.booth.quiet()
        return number


@asynccontextmanager
async def workshop(
    platform: Telegram, folder: Path, *, kind: str = "supergroup", topics: bool = True
) -> AsyncIterator[Workshop]:
    token = fresh_token()
    platform.add_bot(token, f"bot{token[:9]}_bot")
    ada, eve, bob = (platform.add_person(name, bot=token) for name in ("Ada", "Eve", "Bob"))
    room = platform.add_group(
        ada, "Workshop", kind=kind, topics=["General"] if topics else [], people=[eve], bots=[token]
    )
    platform.let_make_topics(room, token)
    async with polling(platform, folder, token=token, room=room) as booth:
        made = Workshop(booth, room, ada, eve, bob)
        await made.admit(ada, "Ada")
        yield made


@pytest_asyncio.fixture
async def shop(platform: Telegram, tmp_path: Path) -> AsyncIterator[Workshop]:
    async with workshop(platform, tmp_path) as made:
        yield made


async def test_a_case_gets_a_topic_and_a_reply_there_reaches_its_person(shop: Workshop) -> None:
    code = await shop.asks()
    card = shop.laid_out[0]
    assert code in card.text
    assert card.thread
    assert "4 notches" in card.text
    assert "can I talk to somebody?" in shop.laid_out[1].text
    await shop.answers("Bring it in at three.", card)
    assert "Bring it in at three." in shop.bob.screen().last.text
    assert shop.bob.screen().last.text.startswith("From Ada at ")
    await shop.says(shop.bob, "see you then")
    assert shop.bob.screen().last.text == "see you then", "the bot keeps quiet"
    passed = shop.laid_out[-1]
    assert passed.text == f"{code}, the customer writes:\nsee you then"
    assert passed.thread == card.thread
