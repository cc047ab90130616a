"""The whole conversation, as the phone shows it: by buttons, by typing, and what can go wrong between the two."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.channels.telegram.stage import Rider, Stage, polling, said_back
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Telegram

pytestmark = pytest.mark.asyncio


async def test_by_buttons_to_the_remover(stage: Stage) -> None:
    ada = stage.person("Ada")
    rider = Rider(ada)
    screen = await rider.to_the_end()
    text = screen.drawn()
    assert "I’m the bot" in screen.from_bots[0].text
    assert "Remover: the 4-notch freewheel remover, 24 mm" in text
    assert "“the small four”" in text
    await stage.quiet()
    screen = ada.screen()
    *others, last = screen.from_bots
    assert last.kind == "photo", "the answer is the picture's own caption"
    assert last.buttons[0].text == "Take me through it"
    assert not any(message.buttons for message in others)
    assert screen.unanswered == 0
    assert stage.delivery.counts.failed_turns == stage.delivery.counts.refused == 0


async def test_by_typing_alone_it_ends_the_same(stage: Stage) -> None:
    pressed, typed = Rider(stage.person("Ada")), Rider(stage.person("Bob"), presses=False)
    ends = [(await rider.to_the_end()).from_bots for rider in (pressed, typed)]
    named = [[part for m in end for part in m.text.split("\n") if part.startswith("Remover:")] for end in ends]
    assert named[0] == named[1] != []
    assert pressed.asked == typed.asked


async def test_a_question_has_one_button_an_answer_across_and_two_beside(stage: Stage) -> None:
    ada = stage.person("Ada")
    rider = Rider(ada)
    screen = await rider.start()
    assert [[b.text for b in row] for row in screen.last.rows] == [
        ["1", "5", "6", "7", "8"],
        ["9", "10", "11", "12", "13"],
        ["Another number"],
        ["I don’t know", "How do I check?"],
    ]
    ada.write("it is an electric bike")
    screen = await rider.next_after(len(screen.from_bots))
    while not any(b.text.startswith("1. ") for b in screen.last.buttons):
        screen = await rider.answer()
    rows = [[b.text for b in row] for row in screen.last.rows]
    assert all(len(row) == 1 and row[0].startswith(f"{n}. ") for n, row in enumerate(rows[:-2], 1))
    assert rows[-2:] == [["I don’t know", "How do I check?"], ["Back"]]
    assert all(len(b.data.encode()) <= 64 for b in screen.last.buttons)


async def test_what_was_answered_is_shown_in_place_of_the_buttons(stage: Stage) -> None:
    ada = stage.person("Ada")
    rider = Rider(ada)
    await rider.start()
    await rider.answer()
    await stage.quiet()
    first = ada.screen().from_bots[0]
    assert (first.edited, first.buttons) == (True, ())
    assert first.text.endswith("✓ there are 6 sprockets at the back")


async def test_how_do_i_check_keeps_the_question_open(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    ada.press("How do I check?")
    screen = await ada.watch(lambda screen: len(screen.from_bots) == 2)
    assert screen.last.text.startswith("1. Look at the back wheel only.")
    assert "sprockets" in screen.last.text
    assert screen.last.buttons
    await stage.quiet()
    assert "✓" not in ada.screen().from_bots[0].text


async def test_a_picture_goes_with_the_question_and_is_uploaded_once(stage: Stage) -> None:
    names = set()
    for name in ("Ada", "Bob"):
        rider = Rider(stage.person(name))
        screen = await rider.start()
        while screen.last.kind != "photo":
            screen = await rider.answer()
        names.add(screen.last.picture)
        assert "In the picture:" in screen.last.text
        assert screen.last.text.count("\n\n") >= 2
        assert screen.last.buttons
    assert len(names) == 1


async def test_a_picture_that_the_platform_no_longer_knows_is_uploaded_again(stage: Stage) -> None:
    rider = Rider(stage.person("Ada"))
    screen = await rider.start()
    while screen.last.kind != "photo":
        screen = await rider.answer()
    await stage.quiet()
    gallery = stage.channel._sender._gallery
    gallery._names = dict.fromkeys(gallery._names, "a-name-of-another-bot")
    bob = Rider(stage.person("Bob"))
    again = await bob.start()
    while again.last.kind != "photo":
        again = await bob.answer()
    assert again.last.picture != screen.last.picture
    assert stage.delivery.counts.refused == 0


async def test_a_double_tap_changes_nothing(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    ada.press("I don’t know")
    ada.press("I don’t know", stale=True)
    await stage.quiet()
    screen = ada.screen()
    assert len(screen.from_bots) == 2
    assert screen.unanswered == 0
    assert stage.delivery.counts.doubles == 1


async def test_a_stale_press_gets_a_notice_and_the_live_question(stage: Stage) -> None:
    ada = stage.person("Ada")
    rider = Rider(ada)
    await rider.start()
    await rider.answer()
    first = ada.screen().from_bots[0]
    ada.press("I don’t know", message=first.id, stale=True)
    screen = await ada.watch(lambda screen: len(screen.from_bots) == 3)
    live = screen.from_bots[1].text.split("\n\n")[1]
    assert screen.last.text.startswith("That button is out of date: something has changed.")
    assert live in screen.last.text
    assert screen.last.buttons
    await stage.quiet()
    assert sum(bool(message.buttons) for message in ada.screen().messages) == 1


async def test_back_takes_the_last_answer_back(stage: Stage) -> None:
    ada = stage.person("Ada")
    rider = Rider(ada)
    await rider.start()
    await rider.answer()
    ada.press("Back")
    screen = await ada.watch(lambda screen: "I’ve taken this back" in screen.last.text)
    assert "sprockets" in screen.last.text
    assert screen.last.buttons


async def test_an_edited_message_corrects_the_answer_that_it_gave(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    number = ada.write("6 sprockets")
    await ada.watch(lambda screen: said_back(screen, "6 sprockets"))
    ada.edit(number, "1 sprocket")
    screen = await ada.watch(lambda screen: len(screen.from_bots) == 3)
    assert said_back(screen, "one sprocket")
    assert screen.last.buttons
    ada.write("why")
    screen = await ada.watch(lambda screen: "So far" in screen.last.text)
    assert "there is one sprocket" in screen.last.text
    assert "6 sprockets" not in screen.last.text


async def test_what_is_no_text_is_answered_in_one_sentence(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    for kind, said in (("voice", "I can only read"), ("sticker", "I can only read"), ("location", "I can only read"),
                       ("contact", "I can only read"), ("photo", "I’ll keep it for the person")):  # fmt: skip
        before = len(ada.screen().from_bots)
        ada.send(kind)
        screen = await ada.watch(lambda screen, before=before: len(screen.from_bots) == before + 1)  # type: ignore[misc]
        assert said in screen.last.text
        assert "sprockets" in screen.last.text


async def test_marks_of_the_platform_in_what_people_write_do_no_harm(stage: Stage) -> None:
    ada = stage.person("Ada")
    await Rider(ada).start()
    ada.write("<b>99</b> & <script> sprockets")
    screen = await ada.watch(lambda screen: len(screen.from_bots) == 2)
    assert screen.last.buttons
    assert stage.delivery.counts.refused == 0


async def test_no_message_shows_a_preview_of_a_link(stage: Stage) -> None:
    """A note's file on our own machine is nothing that a phone could open: its title alone is shown."""
    screen = await Rider(stage.person("Ada")).to_the_end()
    told = next(message for message in screen.from_bots if "Our note" in message.text)
    assert "– Freewheel with 4 notches, 24 mm: the small four" in told.text.split("\n")
    assert "file:" not in screen.drawn()


async def test_a_question_about_the_work_is_answered_from_the_notes(platform: Telegram, tmp_path: Path) -> None:
    used = shipped_guide()
    online = replace(used, shop=used.shop.read_at("https://shop.example.org/notes"))
    async with polling(platform, tmp_path, online) as stage:
        ada = stage.person("Ada")
        rider = Rider(ada)
        await rider.start()
        await rider.answer()
        before = ada.screen()
        ada.write("is it started by hand when it goes back?")
        screen = await rider.next_after(len(before.from_bots))
        assert screen.last.text.startswith("That depends on what holds your sprockets")
        assert "How many splines or notches" in screen.last.text, "what was open is asked again, without its picture"
        assert [b.text for b in screen.last.buttons] == [b.text for b in before.from_bots[-1].buttons]
        while "Remover:" not in screen.from_bots[-1].text:
            screen = await rider.answer()
        ada.write("is it started by hand when it goes back?")
        screen = await rider.next_after(len(screen.from_bots))
        assert "Start the freewheel by hand, clockwise seen from the sprocket side." in screen.last.text
        led = [entity.get("url") for entity in screen.last.entities]
        assert "https://shop.example.org/notes/freewheel-4-notch-24#put-it-back" in led
        assert "https:" not in screen.last.text
