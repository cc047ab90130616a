"""Two channels, one `triagebot serve`: a case begun on one is gone on with on the other once its owner has said yes
where they began it; by naming its code alone nobody gets anywhere. Who helps is on one, the rider on the other.

What differs in a room without encryption is tried with one channel (`test_channel`); a long run tries it here too."""

import re
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import pytest
import pytest_asyncio

from tests.channels.matrix.campaign import Serving, serving
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.person import Person as OnMatrix
from tests.channels.telegram.stage import fresh_token
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Person as OnTelegram
from tests.doubles.telegram import Telegram, serve_apart
from tests.effort import effort
from tests.store.reading import current_case
from triagebot.store import open_store

pytestmark = [pytest.mark.asyncio, pytest.mark.slow]

BOTH = pytest.mark.parametrize(
    "encrypted", effort((True,), (False, True)), ids=effort(("encrypted",), ("plain", "encrypted"))
)
PATIENCE = 300.0  # seconds
TEXTS = shipped_guide().language("en").texts
ASKED, YES, NO = TEXTS("move-asked"), TEXTS("move-yes"), TEXTS("move-no")
STAYS = TEXTS("choice-spin-stays.echo")
_NUMBERS = count(1)


@dataclass
class Room:
    """Somebody's room with the bot; whatever they say, the bot answers it."""

    person: OnMatrix
    id: str

    async def hears(self) -> str:
        return (await self.person.hears(_is_said, PATIENCE, self.id)).body

    async def say(self, text: str) -> str:
        await self.person.say(self.id, text)
        return await self.hears()

    @property
    def said(self) -> list[str]:
        return [heard.body for heard in self.person.seen if heard.sender != self.person.user_id and _is_said(heard)]


def _is_said(heard: Heard) -> bool:
    return heard.in_words and heard.is_message


@dataclass
class Phone:
    """Somebody's chat with the bot; whatever they say or press, the bot answers it."""

    person: OnTelegram
    told: int = field(default=0)

    async def hears(self) -> str:
        def more(screen: object) -> bool:
            return len(self.said) > self.told

        await self.person.watch(more, within=PATIENCE)
        self.told += 1
        return self.said[self.told - 1]

    async def say(self, text: str) -> str:
        self.person.write(text)
        return await self.hears()

    async def press(self, label: str) -> str:
        self.person.press(label)
        return await self.hears()

    @property
    def said(self) -> list[str]:
        return [shown.text for shown in self.person.screen().from_bots]


@dataclass
class Shop:
    """The bot on both, and the person who comes."""

    bot: Serving
    user: str
    token: str
    platform: Telegram
    people: People

    async def phone(self, name: str) -> Phone:
        phone = Phone(self.platform.add_person(name, language="en", bot=self.token))
        await phone.say("/start")
        return phone

    async def room(self, name: str, encrypted: bool) -> Room:
        person = await self.people(name)
        room = Room(person, await person.create_direct_room(self.user, encrypted))
        await person.sees_join(room.id, self.user, PATIENCE)
        await room.hears()
        return room

    def cases(self, *who: Room | Phone) -> list[tuple[str, list[str]]]:
        """Where everybody is now, and who else takes part there, once the bot has ended."""
        assert self.bot.stop() == 0
        with (
            open_store(self.bot.folder / "data", key_file=self.bot.folder / "triagebot.key") as store,
            store.read() as view,
        ):
            names = {view.lookup_hash(_name(each)): _name(each) for each in who}
            found = [current_case(view, _name(each)) for each in who]
            return [(case.code, sorted(names[mark] for mark in view.parties(case.id))) for case in found if case]


def _name(who: Room | Phone) -> str:
    return f"matrix:{who.person.user_id}" if isinstance(who, Room) else f"telegram:{who.person.id}"


@pytest.fixture(scope="module")
def platform() -> Iterator[Telegram]:
    with serve_apart() as telegram:
        yield telegram


@pytest_asyncio.fixture
async def shop(homeserver: Homeserver, platform: Telegram, people: People, tmp_path: Path) -> AsyncIterator[Shop]:
    user = await homeserver.register(f"both-{next(_NUMBERS)}", PASSWORD)
    token = fresh_token()
    platform.add_bot(token, f"bot{token[:9]}_bot")
    there = platform.base_url.removesuffix("/bot")
    bot = serving(homeserver, user, tmp_path / "shop", TELEGRAM_TOKEN=token, TELEGRAM_SERVER=there)
    try:
        await bot.ready(bot.start())
        yield Shop(bot, user, token, platform, people)
    finally:
        bot.end()


def code_in(text: str) -> str:
    found = re.search(r"\b[2-9A-Z]{3}-[2-9A-Z]{3}\b", text)
    assert found is not None, text
    return found[0]


@BOTH
async def test_from_telegram_to_matrix_and_back(shop: Shop, encrypted: bool) -> None:
    phone, room = await shop.phone("Ada"), await shop.room("ada", encrypted)
    await phone.say("9 sprockets")
    code = code_in(await phone.say("my code"))
    assert (await room.say(f"my code is {code}")).startswith(ASKED)
    assert "Somebody on Matrix has given the code" in await phone.hears()
    assert "9 sprockets" not in await room.say("why"), "it is not theirs yet"
    assert TEXTS("moved") in await phone.press(YES)
    here = await room.hears()
    assert here.startswith(TEXTS("moved-here"))
    assert "?" in here, "the open question comes with it"
    assert STAYS in await room.say("it stays still")
    both = await phone.say("why")
    assert "9 sprockets" in both
    assert "stays still" in both
    assert "wheel is out" in await phone.say("the wheel is out")
    all_three = await room.say("why")
    assert all(part in all_three for part in ("9 sprockets", "stays still", "wheel is out"))
    assert shop.cases(phone, room) == [(code, sorted([_name(phone), _name(room)]))] * 2


@BOTH
async def test_from_matrix_to_telegram_and_back(shop: Shop, encrypted: bool) -> None:
    phone, room = await shop.phone("Bob"), await shop.room("bob", encrypted)
    await room.say("9 sprockets")
    code = code_in(await room.say("my code"))
    assert (await phone.say(code.lower())).startswith(ASKED)
    asked = await room.hears()
    assert "Somebody on Telegram has given the code" in asked
    assert TEXTS("moved") in await room.say(YES)
    assert (await phone.hears()).startswith(TEXTS("moved-here"))
    assert STAYS in await phone.say("it stays still")
    assert "stays still" in await room.say("why")
    assert "wheel is out" in await room.say("the wheel is out")
    assert "wheel is out" in await phone.say("why")
    assert shop.cases(phone, room) == [(code, sorted([_name(phone), _name(room)]))] * 2


async def test_the_code_alone_opens_nothing(shop: Shop) -> None:
    phone, thief = await shop.phone("Cleo"), await shop.room("mallory", encrypted=False)
    await phone.say("9 sprockets")
    code = code_in(await phone.say("my code"))
    none = f"{code[:-1]}{'2' if code[-1] != '2' else '3'}"
    assert (asked := await thief.say(none)).startswith(ASKED)
    assert await thief.say(code) == asked, "whether there is such a case is not told"
    assert "Somebody on Matrix has given the code" in await phone.hears()
    for word in ("yes", YES, "why", "my code", "continue"):
        assert "9 sprockets" not in await thief.say(word)
    assert (await phone.press(NO)).startswith(TEXTS("stayed"))
    await thief.say("it stays still")
    assert "9 sprockets" not in await thief.say("why")
    assert "the middle stays still" not in await phone.say("why")
    assert not any(code in said for said in thief.said)
    theirs, other = shop.cases(phone, thief)
    assert theirs == (code, [_name(phone)])
    assert other[0] != code
    assert other[1] == [_name(thief)]


@BOTH
async def test_somebody_helps_on_matrix_and_the_rider_answers_on_telegram(shop: Shop, encrypted: bool) -> None:
    room, phone, name = await shop.room("mo", encrypted), await shop.phone("Ria"), "the blue commuter"
    assert TEXTS("mentor-what-back", name=name) in await room.say(f"I’m helping somebody: {name}")
    assert (await room.hears()).endswith(TEXTS("mentor-forward-unsure")), "what is to be sent on stands alone"
    assert await room.say("invite") == TEXTS("mentor-invited", name=name)
    code = re.search(r"\b[B-Z]{4}-[B-Z]{4}-[B-Z]{4}\b", await room.hears())
    assert code is not None
    assert TEXTS("mentor-consent-yes") not in await phone.say(code[0]), "that stands on a button"
    assert (await phone.press(TEXTS("mentor-consent-yes"))).startswith(TEXTS("mentor-consent-given"))
    assert await room.hears() == TEXTS("mentor-joined", name=name)
    await phone.say("it stays still")
    assert TEXTS("mentor-copy", name=name, said="it stays still") in await room.hears()
    await room.say("4 notches")
    assert (await phone.hears()).startswith(TEXTS("mentor-from-mentor"))
    both = await phone.say("why")
    assert "From the rider: the middle stays still" in both
    assert "From the mentor: the fitting has notches" in both
