"""Staff on Matrix and customers on Telegram, and the other way round: one `triagebot serve` on both channels."""

import re
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio

from tests.channels.matrix.campaign import Serving, serving
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.person import Person as OnMatrix
from tests.channels.matrix.test_two_channels import PATIENCE, Room, code_in
from tests.channels.telegram.stage import fresh_token
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Person, Telegram, serve_apart
from tests.effort import effort
from triagebot.channels.matrix.reading import Reader
from triagebot.channels.matrix.seen import Room as SeenRoom
from triagebot.channels.matrix.seen import Seen
from triagebot.counter import invite
from triagebot.messages import Edited, InRoom, Said
from triagebot.store import open_store

pytestmark = [pytest.mark.asyncio, pytest.mark.slow]

#: A room without encryption is tried in a long run; what differs there is tried with one channel (`test_channel`).
BOTH = pytest.mark.parametrize(
    "encrypted", effort((True,), (False, True)), ids=effort(("encrypted",), ("plain", "encrypted"))
)
TEXTS = shipped_guide().language("en").texts
_NUMBERS = count(1)


@pytest.fixture(scope="module")
def platform() -> Iterator[Telegram]:
    with serve_apart() as telegram:
        yield telegram


@dataclass
class Ground:
    """A bot on both channels that is not started yet, and who there is."""

    homeserver: Homeserver
    platform: Telegram
    people: People
    folder: Path
    user: str
    token: str
    bot: Serving | None = None

    async def start(self, **settings: str) -> None:
        there = self.platform.base_url.removesuffix("/bot")
        self.bot = serving(
            self.homeserver, self.user, self.folder, TELEGRAM_TOKEN=self.token, TELEGRAM_SERVER=there, **settings
        )
        await self.bot.ready(self.bot.start())

    def invitation(self, name: str) -> str:
        key = self.folder / "triagebot.key"
        with open_store(self.folder / "data", key_file=key) as store, store.begin() as tx:
            return invite(tx, "staff", name, datetime.now(UTC))

    def phone(self, name: str) -> "Phone":
        return Phone(self.platform.add_person(name, language="en", bot=self.token))

    async def room(self, person: OnMatrix, encrypted: bool = False) -> Room:
        room = Room(person, await person.create_direct_room(self.user, encrypted))
        await person.sees_join(room.id, self.user, PATIENCE)
        await room.hears()
        return room


@dataclass
class Phone:
    """Somebody's chat with the bot, which may say several things to one."""

    person: Person

    async def reads(self, part: str) -> str:
        """The message that has this part, once it is there."""
        screen = await self.person.watch(lambda screen: any(part in m.text for m in screen.from_bots), within=PATIENCE)
        return next(m.text for m in screen.from_bots if part in m.text)

    async def say(self, text: str, part: str) -> str:
        self.person.write(text)
        return await self.reads(part)

    @property
    def said(self) -> str:
        return "\n".join(message.text for message in self.person.screen().from_bots)


@pytest_asyncio.fixture
async def ground(homeserver: Homeserver, platform: Telegram, people: People, tmp_path: Path) -> AsyncIterator[Ground]:
    user = await homeserver.register(f"desk-{next(_NUMBERS)}", PASSWORD)
    token = fresh_token()
    platform.add_bot(token, f"bot{token[:9]}_bot")
    ground = Ground(homeserver, platform, people, tmp_path / "shop", user, token)
    try:
        yield ground
    finally:
        if ground.bot is not None:
            ground.bot.end()


@BOTH
async def test_a_customer_on_telegram_and_staff_on_matrix(ground: Ground, encrypted: bool) -> None:
    sara, guest = await ground.people("sara"), await ground.people("guest")
    workshop = await sara.create_group_room(guest.user_id, ground.user, encrypted=encrypted)
    await guest.join(workshop)
    await ground.start(MATRIX_STAFF_ROOM=workshop)
    await sara.sees_join(workshop, ground.user, PATIENCE)
    own = await ground.room(sara)
    assert "Sara" in await own.say(ground.invitation("Sara"))

    async def laid_out() -> Heard:
        return await sara.hears(lambda heard: heard.sender == ground.user and heard.is_message, PATIENCE, workshop)

    bob = ground.phone("Bob")
    await bob.say("it stays still, 4 notches, about 40 mm", "40 mm")
    handed = await bob.say("person", "passed your case on")
    card = await laid_out()
    code = code_in(card.body)
    assert code in handed
    root = card.event_id
    assert not card.thread
    assert card.body.endswith(TEXTS("handover-room-how-matrix"))
    passed = await laid_out()
    assert passed.body == f"{code}, the customer writes:\nperson"
    assert (passed.thread, passed.reply_to) == (root, root), "clients that know no threads show it at the card"

    await guest.say(workshop, "I would throw it away", reply_to=root, thread=root)  # no staff
    await guest.say(workshop, "or burn it", thread=root)
    await sara.say(workshop, "the usual one, I think", thread=root, mention=guest.user_id)
    assert (await laid_out()).body == TEXTS("handover-room-hint-matrix", code=code)
    await sara.say(workshop, "Bring it in at three.", thread=root)
    assert await bob.reads("at three") == TEXTS(
        "staff-from-person", name="Sara", shop=shipped_guide().shop.name, text="Bring it in at three."
    )
    bob.person.write("see you then")
    assert (await laid_out()).body == f"{code}, the customer writes:\nsee you then"
    bob.person.send("photo")
    photo = await laid_out()
    shown = await sara.hears(lambda heard: heard.kind == "m.image", PATIENCE, workshop)
    assert photo.body == f"{code}: a photo from the customer."
    assert shown.thread == root
    assert (await sara.fetch(shown))[:3] == b"\xff\xd8\xff"
    bob.person.send_album(2, caption="and from behind")
    assert (await laid_out()).body == f"{code}, the customer writes:\nand from behind"
    for _ in range(2):
        shown = await sara.hears(lambda heard: heard.kind == "m.image", PATIENCE, workshop)
        assert (shown.thread, shown.body) == (root, "photo.jpg")

    reply = await sara.say(workshop, "At four, rather.", reply_to=root, thread=root)
    await bob.reads("At four, rather.")
    await sara.edit(workshop, reply, "At five, rather.")
    assert (await laid_out()).body == TEXTS("handover-edited", code=code)
    await sara.say(workshop, "Back to the bot", reply_to=root, thread=root)
    await bob.reads(TEXTS("handover-returned-by", name="Sara"))
    assert not [part for part in ("throw it away", "burn it", "usual one", "five") if part in bob.said]


async def test_a_customer_on_matrix_and_staff_on_telegram(ground: Ground) -> None:
    ada = ground.phone("Ada")
    group = ground.platform.add_group(ada.person, "Workshop", topics=["General"], bots=[ground.token])
    ground.platform.let_make_topics(group, ground.token)
    await ground.start(TELEGRAM_STAFF_ROOM=str(group))
    await ada.say(ground.invitation("Ada"), "Hello Ada.")
    room = await ground.room(await ground.people("bea"), encrypted=True)
    await room.say("it stays still, 4 notches")
    code = code_in(await room.say("person"))

    def told(screen: Any) -> bool:
        return any(f"{code}, the customer writes" in message.text for message in screen.from_bots)

    screen = await ada.person.watch(told, chat=group, within=PATIENCE)
    last = screen.from_bots[-1]
    ada.person.write("Come by.", chat=group, thread=last.thread, reply_to=last.id)
    assert (await room.hears()).endswith("Come by.")
    await room.person.say(room.id, "I will")
    await ada.person.watch(lambda screen: screen.from_bots[-1].text.endswith("I will"), chat=group, within=PATIENCE)
    assert re.search(r"Come by\.$", room.said[-1]), "the bot keeps quiet"


WORKSHOP, BRIDGE = "!workshop", "@bridge:shop.test"


def reader() -> Reader:
    bridges = {BRIDGE: re.compile(r"<(?P<name>[^>:]{1,64})> ")}
    return Reader("@wheels:shop.test", "Wheel Bot", "en", ("en",), bridges, staff=WORKSHOP)


def seen(sender: str, text: str, **more: Any) -> Seen:
    """A reply to a message of the bot's in a thread of the staff's room, which is a room for two."""
    room = SeenRoom(WORKSHOP, WORKSHOP, True, False)
    given = {"thread": "$root", "answers": "$root", "answers_us": True, **more}
    return Seen("words", "$reply", room, sender, datetime(2026, 3, 2, 10, tzinfo=UTC), text, **given)


async def test_what_counts_as_an_answer() -> None:
    (incoming,) = reader().read(seen("@ada:shop.test", "At three."))
    assert incoming.room == InRoom("@ada:shop.test", "$root")
    assert (incoming.content, incoming.private) == (Said("At three."), False)
    assert reader().read(seen("@ada:shop.test", "At three.", answers="$other", answers_us=False)) == ()
    (incoming,) = reader().read(seen("@ada:shop.test", "At three.", answers="", answers_us=False))
    assert (incoming.room, incoming.content) == (InRoom("@ada:shop.test", "$root"), Said("At three."))
    named = {"answers": "", "answers_us": False, "mentions_others": True}
    (incoming,) = reader().read(seen("@ada:shop.test", "Gus, is it in?", **named))
    assert incoming.room == InRoom("@ada:shop.test", "$root", answers=False), "it is for Gus"
    (incoming,) = reader().read(seen("@ada:shop.test", "Wheel Bot: Gus says three.", **named, mentions_us=True))
    assert (incoming.room, incoming.content) == (InRoom("@ada:shop.test", "$root"), Said("Gus says three."))
    assert reader().read(seen("@ada:shop.test", "@wheels:shop.test help", answers_us=False, mentions_us=True)) == ()
    assert reader().read(seen("@ada:shop.test", "At three.", thread="")) == (), "it is about no case"


async def test_a_bridged_name_that_looks_like_staff_is_nobody() -> None:
    assert reader().read(seen(BRIDGE, "<Ada> At three.")) == ()
    assert reader().read(seen(BRIDGE, "<@ada:shop.test> At three.")) == ()


async def test_a_correction_finds_its_thread_after_a_restart() -> None:
    first, later = reader(), reader()
    first.read(seen("@ada:shop.test", "At three."))
    later.restore(first.kept())
    corrected = replace(seen("@ada:shop.test", "At four."), kind="correction", about="$reply", thread="", id="$edit")
    (incoming,) = later.read(corrected)
    assert incoming.content == Edited("At four.", "$reply")
    assert incoming.room == InRoom("@ada:shop.test", "$root")
    assert reader().read(corrected) == (), "what was not answered is not corrected"
