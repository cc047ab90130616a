"""Customers and staff on Telegram: a case gets a topic in the staff's room, and what both say passes both ways."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from telegram import Update
from telegram.error import BadRequest

from tests.channels.telegram.stage import Stage, fresh_token, polling
from tests.doubles.telegram import Person, Screen, Shown, Telegram
from triagebot.channels.telegram import bot_api
from triagebot.channels.telegram.groups import Groups
from triagebot.channels.telegram.reading import Reader
from triagebot.counter import invite
from triagebot.handover import to_staff
from triagebot.messages import Incoming, InRoom

pytestmark = pytest.mark.asyncio


@dataclass
class Workshop:
    """A bot, the room of the staff, Ada who is one of them, Eve who is only in the room, and Bob who has a wheel."""

    stage: Stage
    room: int
    ada: Person
    eve: Person
    bob: Person

    async def admit(self, who: Person, name: str) -> None:
        with self.stage.store.begin() as tx:
            code = invite(tx, "staff", name, datetime.now(UTC))
        before = len(who.screen().from_bots)
        who.start(code)
        await who.watch(lambda screen: len(screen.from_bots) > before)

    async def says(self, who: Person, text: str) -> Screen:
        """Somebody writes in private."""
        who.write(text)
        await self.stage.quiet()
        return who.screen()

    async def asks(self) -> str:
        """Bob tells what he sees, and asks for a person; gives the code of his case."""
        await self.says(self.bob, "it stays still, 4 notches, about 40 mm")
        screen = await self.says(self.bob, "can I talk to somebody?")
        return next(m.text for m in screen.from_bots if "\nCase " in m.text).split("\nCase ")[1][:7]

    @property
    def laid_out(self) -> list[Shown]:
        """What the bot has written in the room."""
        return [m for m in self.ada.screen(chat=self.room).from_bots if m.kind != "service"]

    async def answers(self, text: str, to: Shown | None = None, who: Person | None = None) -> int:
        """A reply to the last message of the bot's in the room, or to the one that is given."""
        to = to or self.laid_out[-1]
        number = (who or self.ada).write(text, chat=self.room, thread=to.thread, reply_to=to.id)
        await self.stage.quiet()
        return number


@asynccontextmanager
async def workshop(
    platform: Telegram, folder: Path, *, kind: str = "supergroup", topics: bool = True, rights: bool = True
) -> AsyncIterator[Workshop]:
    token = fresh_token()
    platform.add_bot(token, f"bot{token[:9]}_bot")
    ada, eve, bob = (platform.add_person(name, bot=token) for name in ("Ada", "Eve", "Bob"))
    room = platform.add_group(
        ada, "Workshop", kind=kind, topics=["General"] if topics else [], people=[eve], bots=[token]
    )
    if rights:
        platform.let_make_topics(room, token)
    async with polling(platform, folder, token=token, room=room) as stage:
        made = Workshop(stage, room, ada, eve, bob)
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


async def test_only_an_explicit_reply_of_staff_goes_out(shop: Workshop) -> None:
    await shop.asks()
    card = shop.laid_out[0]
    before = len(shop.bob.screen().messages)
    shop.ada.write("the usual one, I think", chat=shop.room, thread=card.thread)  # answers the topic's own beginning
    shop.ada.write(f"@bot{shop.stage.token[:9]}_bot what do you say?", chat=shop.room, thread=card.thread)
    shop.ada.write("/help", chat=shop.room, thread=card.thread)
    await shop.answers("I run this group. Throw it away.", card, shop.eve)
    laid_out = len(shop.laid_out)
    assert "that stayed here" in shop.laid_out[-1].text
    assert laid_out == 3, "how it is done is said once, under the first"
    assert len(shop.bob.screen().messages) == before
    await shop.answers("Bring it in.")
    assert shop.bob.screen().last.text.endswith("Bring it in.")
    assert len(shop.laid_out) == laid_out, "nothing was answered in the room"


async def test_a_correction_is_told_under_it(shop: Workshop) -> None:
    code = await shop.asks()
    number = await shop.answers("At three.")
    shop.ada.edit(number, "At four.", chat=shop.room)
    await shop.stage.quiet()
    assert shop.laid_out[-1].text.startswith(f"{code}: I don’t pass on edits.")
    assert shop.laid_out[-1].reply_to == number
    assert shop.bob.screen().last.text.endswith("At three.")


async def test_photos_pass_both_ways(shop: Workshop) -> None:
    code = await shop.asks()
    shop.bob.send("photo")
    await shop.stage.quiet()
    assert (shop.laid_out[-1].kind, shop.laid_out[-1].text) == ("photo", f"{code}: a photo from the customer.")
    last = shop.laid_out[-1]
    assert last.thread == shop.laid_out[0].thread
    shop.ada.send("photo", chat=shop.room, thread=last.thread, reply_to=last.id)
    await shop.stage.quiet()
    assert shop.bob.screen().last.kind == "photo"
    assert shop.bob.screen().last.text.startswith("From Ada at ")


async def test_a_topic_that_was_closed_or_deleted_is_there_again(shop: Workshop) -> None:
    code = await shop.asks()
    first = shop.laid_out[0].thread
    shop.stage.platform.close_topic(shop.room, first)
    await shop.says(shop.bob, "hello?")
    assert (shop.laid_out[-1].thread, shop.laid_out[-1].text[-6:]) == (first, "hello?")
    shop.stage.platform.delete_topic(shop.room, first)
    await shop.says(shop.bob, "still there?")
    said, card = [message for message in shop.laid_out if message.thread not in (0, first)]
    assert said.text.endswith("still there?")
    assert (code in card.text, "4 notches" in card.text) == (True, True), "what stood in the old topic is gone"
    assert said.thread == card.thread
    await shop.answers("Yes.", said)
    assert shop.bob.screen().last.text.endswith("Yes.")
    await shop.says(shop.bob, "good")
    assert shop.laid_out[-1].thread == shop.laid_out[-2].thread


async def test_a_case_closed_in_private_closes_its_topic(shop: Workshop) -> None:
    code = await shop.asks()
    thread = shop.laid_out[0].thread
    await shop.says(shop.ada, f"close {code} 4n 40 fitted")
    assert (shop.laid_out[-1].text, shop.laid_out[-1].thread) == (f"{code}: Ada has closed it.", thread)
    assert [(error, fault) for _, _, error, fault in shop.stage.calls("closeForumTopic")] == [("", "")]
    await shop.says(shop.bob, "person")
    await shop.says(shop.bob, "it is stuck again")
    assert shop.laid_out[-1].text.endswith("it is stuck again"), "the topic is there again"


async def test_who_has_everything_deleted_closes_the_topic(shop: Workshop) -> None:
    code = await shop.asks()
    thread = shop.laid_out[0].thread
    await shop.says(shop.bob, "forget me")
    await shop.says(shop.bob, "yes")
    assert shop.laid_out[-1].text.startswith(f"{code}: the customer has deleted everything.")
    assert [(error, fault) for _, _, error, fault in shop.stage.calls("closeForumTopic")] == [("", "")]
    assert shop.laid_out[-1].thread == thread


@pytest.mark.parametrize("kind", ["group", "supergroup"])
async def test_in_a_group_without_topics_answers_hold_a_case_together(
    platform: Telegram, tmp_path: Path, kind: str
) -> None:
    async with workshop(platform, tmp_path, kind=kind, topics=False) as shop:
        code = await shop.asks()
        card, message = shop.laid_out
        assert (card.thread, message.reply_to) == (0, card.id)
        cleo = platform.add_person("Cleo", bot=shop.stage.token)
        shop.bob, bob = cleo, shop.bob
        other = await shop.asks()
        assert shop.laid_out[-1].text.startswith(other)
        await shop.answers("For Bob", message)
        await shop.answers("For Cleo")
        assert bob.screen().last.text.endswith("For Bob")
        assert cleo.screen().last.text.endswith("For Cleo")
        await shop.says(bob, f"is {other} mine?")
        await shop.answers("No, the other one.")
        assert bob.screen().last.text.endswith("No, the other one."), "the code that the bot wrote counts"
        assert code != other


async def test_a_group_that_becomes_a_larger_one_goes_on(platform: Telegram, tmp_path: Path) -> None:
    async with workshop(platform, tmp_path, kind="group", topics=False) as shop:
        await shop.asks()
        shop.room = platform.migrate(shop.ada, shop.room)
        await shop.says(shop.bob, "hello?")
        assert shop.laid_out[-1].text.endswith("hello?")
        await shop.answers("Yes.")
        assert shop.bob.screen().last.text.endswith("Yes.")


async def test_a_bot_that_may_make_no_topics_writes_all_the_same(platform: Telegram, tmp_path: Path) -> None:
    async with workshop(platform, tmp_path, rights=False) as shop:
        await shop.asks()
        assert shop.laid_out[0].thread == 0
        await shop.answers("Bring it in.")
        assert shop.bob.screen().last.text.endswith("Bring it in.")


async def test_a_room_that_put_the_bot_out_costs_nobody_anything(
    shop: Workshop, caplog: pytest.LogCaptureFixture
) -> None:
    code = await shop.asks()
    shop.stage.platform.throw_out(shop.ada, shop.room, shop.stage.token)
    await shop.says(shop.bob, "hello?")
    await shop.says(shop.bob, "anybody?")
    told = [record.message for record in caplog.records if "staff's room" in record.message]
    assert len(told) == 1
    assert "telegram_staff_room" in told[0]
    assert code in (await shop.says(shop.ada, "queue")).last.text


CHAT = {"id": -7, "type": "supergroup", "title": "Workshop"}
#: A message of the bot's.
REPLIED = {
    "message_id": 4,
    "date": 1_700_000_000,
    "chat": CHAT,
    "from": {"id": 1, "is_bot": True, "first_name": "Wheel"},
    "text": "K7M-4QX, the customer writes:\n4",
}


def written(text: str, **more: object) -> Incoming | None:
    """What the reader makes of a reply of Ada's to a message of the bot's in the room."""
    message = {
        "message_id": 5,
        "date": 1_700_000_000,
        "chat": CHAT,
        "from": {"id": 7, "is_bot": False, "first_name": "Ada"},
        "text": text,
        "reply_to_message": REPLIED,
        **more,
    }
    update = Update.de_json({"update_id": 1, "message": message})
    return Reader(1, "wheel_bot", "en", ("en",), groups=Groups(-7)).read(update).incoming


@pytest.mark.parametrize(
    ("more", "room"),
    [
        ({}, InRoom("7", "", "K7M-4QX")),
        ({"message_thread_id": 9, "is_topic_message": True}, InRoom("7", "-7/9", "K7M-4QX")),
        ({"sender_chat": {"id": -7, "type": "supergroup", "title": "Workshop"}}, None),  # somebody of those who run it
        ({"reply_to_message": {**REPLIED, "forum_topic_created": {"name": "K7M-4QX", "icon_color": 0}}}, None),
        (
            {
                "message_thread_id": 9,
                "is_topic_message": True,
                "reply_to_message": {**REPLIED, "forum_topic_created": {"name": "K7M-4QX", "icon_color": 0}},
            },
            InRoom("7", "-7/9", answers=False),
        ),
        (
            {
                "message_thread_id": 9,
                "is_topic_message": True,
                "reply_to_message": {**REPLIED, "from": {"id": 8, "is_bot": False, "first_name": "Bob"}},
            },
            None,  # they talk among themselves
        ),
        ({"reply_to_message": {**REPLIED, "from": {"id": 8, "is_bot": False, "first_name": "Bob"}}}, None),
    ],
)
async def test_what_counts_as_an_answer(more: dict[str, object], room: InRoom | None) -> None:
    incoming = written("At three.", **more)
    assert (incoming.room if incoming is not None else None) == room


async def test_what_is_forwarded_is_known_as_such() -> None:
    forwarded = written("At three.", forward_origin={"type": "hidden_user", "date": 1, "sender_user_name": "Ada"})
    assert forwarded is not None
    assert forwarded.forwarded
    assert not forwarded.private


# --- what fails in the room -------------------------------------------------------------------------------------------


async def test_a_case_whose_card_is_refused_keeps_the_topic_that_was_made_for_it(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask, refused = bot_api.Client.ask, list[str]()

    async def refusing(self: bot_api.Client, method: str, **given: Any) -> Any:
        if given.get("message_thread_id") and not refused:
            refused.append(method)
            raise BadRequest("can't parse entities")
        return await ask(self, method, **given)

    monkeypatch.setattr(bot_api.Client, "ask", refusing)
    await shop.asks()
    await shop.says(shop.bob, "hello?")
    assert refused == ["sendMessage"]
    assert len(shop.stage.calls("createForumTopic")) == 1
    assert shop.laid_out[-1].text.endswith("hello?")
    assert {message.thread for message in shop.laid_out} == {shop.laid_out[-1].thread}
    assert shop.laid_out[-1].thread
    shop.ada.write("hm", chat=shop.room, thread=shop.laid_out[-1].thread)
    await shop.stage.quiet()
    assert "that stayed here" in shop.laid_out[-1].text, "the topic is known as the case's"


async def test_a_case_that_was_out_of_reach_goes_on_in_its_topic(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(to_staff, "TRY_AGAIN", timedelta(0))
    await shop.asks()
    thread = shop.laid_out[0].thread
    shop.stage.platform.throw_out(shop.ada, shop.room, shop.stage.token)
    await shop.says(shop.bob, "hello?")
    shop.stage.platform.invite(shop.ada, shop.room, shop.stage.token)
    shop.stage.platform.let_make_topics(shop.room, shop.stage.token)
    await shop.stage.delivery.look_around()
    await shop.stage.quiet()
    assert any(message.text.endswith("hello?") for message in shop.laid_out)
    assert {message.thread for message in shop.laid_out} == {thread}
    assert len(shop.stage.calls("createForumTopic")) == 1


async def test_what_waited_while_the_room_was_gone_is_laid_out_once_with_its_photo(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(to_staff, "TRY_AGAIN", timedelta(0))
    code = await shop.asks()
    thread = shop.laid_out[0].thread
    shop.stage.platform.throw_out(shop.ada, shop.room, shop.stage.token)
    for words in ("hello?", "can you call me?", "I’m at home until five"):
        await shop.says(shop.bob, words)
    shop.bob.send("photo")
    await shop.stage.quiet()
    before = len(shop.laid_out)
    await shop.stage.delivery.look_around()
    await shop.stage.quiet()
    assert len(shop.laid_out) == before, "it is still gone"
    shop.stage.platform.invite(shop.ada, shop.room, shop.stage.token)
    shop.stage.platform.let_make_topics(shop.room, shop.stage.token)
    for _ in range(2):
        await shop.stage.delivery.look_around()
        await shop.stage.quiet()
    laid_out = shop.laid_out[before:]
    for words in ("hello?", "can you call me?", "I’m at home until five"):
        assert sum(message.text.endswith(words) for message in laid_out) == 1
    assert [message.kind for message in laid_out].count("photo") == 1
    assert {message.thread for message in laid_out} == {thread}
    await shop.answers("I’ll ring you at four.")
    assert shop.bob.screen().last.text.endswith("I’ll ring you at four.")
    await shop.says(shop.ada, f"close {code} 4n 40 fitted")
    assert shop.laid_out[-1].text == f"{code}: Ada has closed it."
