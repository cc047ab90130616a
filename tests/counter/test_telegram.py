"""Staff and customer on Telegram: becoming staff, what is told a message of somebody else's, the buttons of a line."""

from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
import pytest_asyncio
from telegram import Update

from tests.channels.telegram.stage import Stage, polling
from tests.counter.visiting import visiting_guide
from tests.delivery.snapshots import snapshot
from tests.doubles.telegram import Person, Screen, Telegram
from tests.doubles.telegram_tests.fixtures import platform, served
from triagebot.channels.telegram.reading import Reader
from triagebot.counter import invite
from triagebot.messages import Arrived, Said
from triagebot.store.staff import Role, Staff

__all__ = ["platform", "served"]


@pytest_asyncio.fixture
async def stage(platform: Telegram, tmp_path: Path) -> AsyncIterator[Stage]:
    async with polling(platform, tmp_path) as opened:
        yield opened


def invitation(stage: Stage, name: str, role: Role = "staff") -> str:
    with stage.store.begin() as tx:
        return invite(tx, role, name, datetime.now(UTC))


def members(stage: Stage) -> list[str]:
    with stage.store.read() as view:
        return [member.name for member in Staff(view).members()]


async def says(stage: Stage, who: Person, text: str) -> Screen:
    before = len(who.screen().from_bots)
    who.write(text)
    await who.watch(lambda screen: len(screen.from_bots) > before)
    await stage.quiet()  # what is long comes in several messages
    return who.screen()


@pytest.mark.asyncio
async def test_the_link_or_the_code_itself_makes_somebody_staff(stage: Stage) -> None:
    ada, eve = stage.person("Ada"), stage.person("Eve")
    ada.start(invitation(stage, "Ada"))
    screen = await ada.watch(lambda screen: bool(screen.from_bots))
    assert screen.last.text.startswith("Hello Ada. You’re staff at")
    await says(stage, eve, invitation(stage, "Eve").lower())
    assert members(stage) == ["Ada", "Eve"]


@pytest.mark.asyncio
async def test_a_group_and_a_correction_make_nobody_staff(stage: Stage) -> None:
    eve = stage.person("Eve")
    name = f"@bot{stage.token[:9]}_bot"
    group = stage.platform.add_group(eve, "Workshop", bots=[stage.token])
    code = invitation(stage, "Eve", "owner")
    eve.write(f"/start{name} {code}", chat=group)
    await eve.watch(lambda screen: len(screen.from_bots) == 1, chat=group)
    eve.write(f"{name} {code}", chat=group)
    await eve.watch(lambda screen: len(screen.from_bots) == 2, chat=group)
    number = eve.write("hello")
    await eve.watch(lambda screen: len(screen.from_bots) == 1)
    eve.edit(number, code)
    await eve.watch(lambda screen: len(screen.from_bots) == 2)
    assert members(stage) == []


@pytest.mark.asyncio
async def test_the_counter_and_the_customer_on_one_delivery(stage: Stage) -> None:
    ada, bob = stage.person("Ada"), stage.person("Bob")
    ada.start(invitation(stage, "Ada"))
    await ada.watch(lambda screen: bool(screen.from_bots))
    await says(stage, bob, "it stays still, 4 notches, about 40 mm")
    screen = await says(stage, bob, "person")
    code = screen.last.text.split("\nCase ")[1][:7]
    assert code in (await says(stage, ada, "queue")).last.text
    assert (await says(stage, ada, f"claim {code}")).last.text == f"{code} is yours."
    await says(stage, ada, f"say {code} ready")
    assert bob.screen().last.text.startswith("From Ada at")
    assert "is closed" in (await says(stage, ada, f"close {code} fitted 4n 40")).last.text


@pytest.mark.asyncio
async def test_a_reply_in_private_goes_to_whose_words_it_answers(stage: Stage) -> None:
    ada, bob, cyd = stage.person("Ada"), stage.person("Bob"), stage.person("Cyd")
    ada.start(invitation(stage, "Ada"))
    await ada.watch(lambda screen: bool(screen.from_bots))
    for who in (bob, cyd):
        await says(stage, who, "it stays still, 4 notches, about 40 mm")
        await says(stage, who, "person")
    assert (await says(stage, bob, "can I come at five?")).last.text.startswith("I’ve passed that on")
    words = ada.screen().last
    assert "can I come at five?" in words.text
    await says(stage, cyd, "hello?")
    ada.write("Five is fine.", reply_to=words.id)
    await stage.quiet()
    assert bob.screen().last.text.endswith("Five is fine.")
    assert "Five is fine." not in cyd.screen().last.text
    assert ada.screen().last.text.startswith("Sent to ")


@pytest.mark.asyncio
async def test_the_buttons_of_a_line_answer_it(stage: Stage) -> None:
    ada = stage.person("Ada")
    ada.start(invitation(stage, "Ada"))
    await ada.watch(lambda screen: bool(screen.from_bots))
    screen = await says(stage, ada, "3 outer 40 turns")
    assert "2. No, the pedals always go round" in [button.text for button in screen.last.buttons]
    before = len(screen.from_bots)
    ada.press("2. No, the pedals always go round")
    screen = await ada.watch(lambda screen: len(screen.from_bots) > before)
    assert "the crab claw" in screen.last.text
    assert "left-hand" in screen.last.text
    await stage.quiet()
    assert not ada.screen().from_bots[-2].buttons, "what was answered has no buttons any more"


@pytest.mark.asyncio
async def test_a_visit_is_asked_for_and_answered(platform: Telegram, tmp_path: Path) -> None:
    """On the clock of the day, in a shop without holidays."""
    guide = visiting_guide()
    always = replace(guide.shop, about=guide.shop.about.model_copy(update={"closed": ()}))
    async with polling(platform, tmp_path, replace(guide, shop=always)) as stage:
        ada, bob = stage.person("Ada"), stage.person("Bob")
        ada.start(invitation(stage, "Ada"))
        await ada.watch(lambda screen: bool(screen.from_bots))
        await says(stage, bob, "hello")
        screen = await says(stage, bob, "can I come on saturday afternoon")
        assert [button.text for button in screen.last.buttons] == ["Yes, ask them", "No, leave it"]
        heard, before = len(ada.screen().from_bots), len(screen.from_bots)
        bob.press("Yes, ask them")
        await ada.watch(lambda screen: len(screen.from_bots) > heard)
        await stage.quiet()
        assert "I’ve asked them." in bob.screen().from_bots[before].text
        asked = ada.screen().last
        code = asked.text[:7]
        assert " asks: come Saturday " in asked.text
        ada.write("yes", reply_to=asked.id)
        await stage.quiet()
        assert ada.screen().last.text.startswith(f"{code}, agreed: come Saturday ")
        assert "Yes, see you on Saturday " in bob.screen().last.text
        before = len(bob.screen().from_bots)
        screen = await says(stage, bob, "calendar")
        assert [message.kind for message in screen.from_bots[before:]] == ["document", "text"]
        assert screen.last.text.startswith("Saturday ")


@pytest.mark.asyncio
async def test_a_photo_is_kept_with_the_bike_on_the_stand(stage: Stage) -> None:
    ada = stage.person("Ada")
    ada.start(invitation(stage, "Ada"))
    await ada.watch(lambda screen: bool(screen.from_bots))
    code = (await says(stage, ada, "new blue tourer, Sam, Thursday")).last.text[:7]
    before = len(ada.screen().from_bots)
    ada.send("photo", data=snapshot(size=(64, 48)))
    await ada.watch(lambda screen: len(screen.from_bots) > before)
    await stage.quiet()
    assert ada.screen().last.text == "Got it. The photo is kept with blue tourer."
    assert f"The photo of {code}:" in [message.text for message in (await says(stage, ada, f"photos {code}")).from_bots]


def read(text: str, chat: str = "private", **more: object) -> tuple[bool, bool, object]:
    """Whether a message is private, whether it is forwarded, and what it says."""
    message = {
        "message_id": 1,
        "date": 1_700_000_000,
        "chat": {"id": 7, "type": chat, "first_name": "Ada", "title": "Workshop"},
        "from": {"id": 7, "is_bot": False, "first_name": "Ada"},
        "text": text,
        **more,
    }
    update = Update.de_json({"update_id": 1, "message": message})
    incoming = Reader(1, "wheel_bot", "en", ("en",)).read(update).incoming
    assert incoming is not None
    return incoming.private, incoming.forwarded, incoming.content


FORWARDED = {"forward_origin": {"type": "hidden_user", "date": 1_600_000_000, "sender_user_name": "Ada"}}


def test_what_a_message_of_the_platform_is() -> None:
    assert read("BCDF") == (True, False, Said("BCDF"))
    assert read("BCDF", **FORWARDED) == (True, True, Said("BCDF"))
    assert read("/start BCDF-GHJK") == (True, False, Arrived(secret="BCDF-GHJK"))
    assert read("/start BCDF-GHJK", **FORWARDED) == (True, True, Arrived(secret="BCDF-GHJK"))
    assert read("/start K7M4QX") == (True, False, Arrived(code="K7M-4QX"))
    assert read("/start new") == (True, False, Arrived(new=True))
    assert read("@wheel_bot BCDF", "group") == (False, False, Said("BCDF"))
