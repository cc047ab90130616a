"""The commands of the menu, in the languages that the bot speaks, and how it presents itself."""

from pathlib import Path

import pytest

from tests.channels.telegram.stage import Rider, Stage, polling
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Telegram
from tests.doubles.telegram.content import plain_png
from tests.store.reading import cases_of
from triagebot.conversation import Guide
from triagebot.conversation.guide import Language
from triagebot.topics import built_in_topic, load_texts
from triagebot.topics.texts import PROGRAM

pytestmark = pytest.mark.asyncio

MENU = ["start", "help", "back", "case", "person", "language", "privacy", "export", "forget", "cancel"]


def two_tongues(folder: Path) -> Guide:
    """A guide that also speaks another language: English with a few words changed, under the code `de`."""
    for home, place in ((built_in_topic(), folder / "topic"), (PROGRAM, folder / "program")):
        (place / "text").mkdir(parents=True)
        text = (home / "text" / "en.ftl").read_text(encoding="utf-8")
        for old, new in (
            ("How do I check?", "Wie prüfe ich das?"),
            ("How many sprockets (cogs) are there at the back?", "Wie viele Ritzel sind hinten?"),
            ("How many sprockets are there at the back?", "Wie viele Ritzel sind hinten?"),
            ("telegram-menu-case = Your case code", "telegram-menu-case = Dein Fallzeichen"),
            ("In the picture:", "Im Bild:"),
        ):
            text = text.replace(old, new)
        (place / "text" / "de.ftl").write_text(text, encoding="utf-8")
    english = shipped_guide().language("en")
    german = Language(load_texts(folder / "topic", "de", folder / "program"), english.words)
    return Guide(shipped_guide().topic, shipped_guide().shop, {"en": english, "de": german})


async def said(rider: Rider, text: str) -> str:
    before = len(rider.person.screen().from_bots)
    rider.person.write(text)
    return (await rider.next_after(before)).last.text


async def test_the_menu_and_the_descriptions_are_set(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    await stage.quiet()
    while not stage.platform.description(bot=stage.token)["short_description"]:
        await stage.quiet()
    assert list(ada.menu()) == MENU
    about = stage.platform.description(bot=stage.token)
    assert shipped_guide().shop.name in about["description"]
    assert shipped_guide().shop.name in about["short_description"]
    group = stage.platform.add_group(ada, "Workshop", bots=[stage.token])
    assert ada.menu(chat=group) == {}


async def test_what_is_presented_already_is_not_set_again(platform: Telegram, tmp_path: Path) -> None:
    async with polling(platform, tmp_path) as stage:
        await Rider(stage.person("Ada")).start()
        while not stage.calls("setMyShortDescription"):
            await stage.quiet()
        assert stage.channel._presenting is not None
        await stage.channel._presenting
        token, count = stage.token, len(stage.calls("setMyCommands"))
    async with polling(platform, tmp_path, token=token) as stage:
        await Rider(stage.person("Bob")).start()
        assert stage.channel._presenting is not None
        await stage.channel._presenting
        assert len(stage.calls("setMyCommands")) == count


async def test_commands_are_the_words_that_always_work(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    await rider.start()
    assert "These words always work:" in await said(rider, "/help")
    assert "There’s nothing to take back yet." in await said(rider, "/back")
    assert "All right, a person will help you." in await said(rider, "/person")
    assert "Your case code is" in await said(rider, "/cancel")


async def test_a_start_later_on_goes_on_where_it_was(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    await rider.start()
    await rider.answer()
    question = rider.person.screen().last.text.split("\n\n")[-1]
    assert "I’m the bot" not in (again := await said(rider, "/start"))
    assert question.split("\n")[0][:30] in again
    code = (await said(rider, "/case")).split("code is ")[1][:7]
    assert question.split("\n")[0][:30] in await said(rider, f"/start {code}")
    assert "I’m the bot" in await said(rider, "/start new")
    assert code not in await said(rider, "/case")


async def test_a_link_with_the_own_code_shows_what_has_ended(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    await rider.to_the_end()
    code = (await said(rider, "/case")).split("code is ")[1][:7]
    for last in (f"/start {code}", "/start", f"/start {code}"):
        before = len(rider.person.screen().from_bots)
        rider.person.write(last)
        screen = await rider.person.watch(lambda screen, n=before: len(screen.from_bots) > n)
        assert screen.from_bots[before].text.startswith("Hello" if last == "/start" else "The answer stands.")
    assert code in await said(rider, "/case")


async def test_a_person_who_begins_with_a_greeting_or_a_photo_is_told_who_speaks(stage: Stage) -> None:
    ada, bob = Rider(stage.person("Ada")), Rider(stage.person("Bob"))
    assert "I’m the bot" in await said(ada, "hello")
    assert "I’m the bot" not in await said(ada, "hello")
    bob.person.send("photo", data=plain_png(400, 300))
    screen = await bob.next_after(0)
    assert "I’m the bot" in screen.last.text
    assert "I can’t look at pictures" in screen.last.text
    assert screen.last.text.count("How many sprockets") == 1


async def test_a_link_with_the_code_of_somebody_else_shows_nothing_of_theirs(stage: Stage) -> None:
    ada, bob = Rider(stage.person("Ada")), Rider(stage.person("Bob"))
    await ada.start()
    await said(ada, "6 sprockets")
    code = (await said(ada, "/case")).split("code is ")[1][:7]
    shown = await said(bob, f"/start {code}")
    assert "I’m the bot" in shown
    assert "6 sprockets" not in await said(bob, "why")
    assert code not in await said(bob, "/case")


async def test_who_has_no_case_gets_one(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    text = await said(rider, "/case")
    assert text.startswith("Your case code is ")
    assert "How many sprockets" in text


async def test_privacy_says_what_is_kept_and_how_to_reach_somebody(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    text = await said(rider, "/privacy")
    assert "“forget me”" in text
    assert shipped_guide().shop.contact.person in text


async def test_forgetting_is_asked_about_and_then_done(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    ada = rider.person
    await rider.start()
    await rider.answer()
    assert "can’t be undone" in await said(rider, "/forget")
    before = len(ada.screen().from_bots)
    ada.press("No, keep it")
    assert (await rider.next_after(before)).last.text.startswith("All right, I haven’t deleted anything.")
    code = (await said(rider, "/case")).split("code is ")[1][:7]
    await said(rider, "/forget")
    before = len(ada.screen().from_bots)
    ada.press("Yes, delete it")
    assert "deleted" in (await rider.next_after(before)).last.text
    with stage.store.read() as view:
        assert cases_of(view, f"telegram:{ada.id}") == ()
    assert code not in await said(rider, "/case")
    await stage.quiet()
    assert not any(b.text.startswith(("Yes, delete", "No, keep")) for m in ada.screen().messages for b in m.buttons)


@pytest.mark.parametrize("sure", ["yes", "delete everything"])
async def test_forgetting_can_be_asked_for_and_confirmed_in_words(stage: Stage, sure: str) -> None:
    rider = Rider(stage.person("Ada"))
    await rider.start()
    assert "can’t be undone" in await said(rider, "delete everything"), "it is asked back first"
    assert "deleted" in await said(rider, sure)
    with stage.store.read() as view:
        assert cases_of(view, f"telegram:{rider.person.id}") == ()


async def test_it_speaks_the_language_of_the_phone_and_another_when_asked(platform: Telegram, tmp_path: Path) -> None:
    async with polling(platform, tmp_path, two_tongues(tmp_path / "words")) as stage:
        dora, ada = stage.person("Dora", "de-AT"), stage.person("Ada", "fr")
        rider, other = Rider(dora), Rider(ada)
        assert "Wie viele Ritzel" in (await rider.start()).last.text
        assert "How many sprockets" in (await other.start()).last.text
        await stage.channel._presenting  # type: ignore[misc]
        assert dora.menu()["case"] == "Your case code"  # the phone asks for "de-at", and the platform knows no such
        assert stage.person("Emil", "de").menu()["case"] == "Dein Fallzeichen"
        screen = ada.screen()
        ada.write("/language")
        screen = await ada.watch(lambda shown: len(shown.from_bots) > len(screen.from_bots))
        assert [b.text for b in screen.last.buttons] == ["English", "Deutsch"]
        ada.press("Deutsch")
        screen = await ada.watch(lambda shown: "Wie viele Ritzel" in shown.last.text)
        assert [b.text for b in screen.last.rows[-1]] == ["I don’t know", "Wie prüfe ich das?"]
        ada.write("/language en")
        await ada.watch(lambda shown: "How many sprockets" in shown.last.text)
        dora.write("I don’t know")
        screen = await dora.watch(lambda shown: shown.last.kind == "photo")
        assert "Im Bild:" in screen.last.text
