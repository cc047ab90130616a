"""Scripted people: what their phones can do and show."""

import pytest
from telegram import MessageEntity

from tests.doubles.telegram import NotPossible, plain_png
from tests.doubles.telegram_tests.stage import Stage
from tests.doubles.telegram_tests.test_talking import keyboard

pytestmark = pytest.mark.asyncio


async def test_a_start_link_carries_its_payload(stage: Stage) -> None:
    stage.ada.start("case-7_a")
    (update,) = await stage.bot.get_updates()
    assert update.message is not None
    assert update.message.text == "/start case-7_a"
    assert update.message.parse_entities([MessageEntity.BOT_COMMAND]).popitem()[1] == "/start"
    assert update.effective_user is not None
    assert (update.effective_user.language_code, update.effective_user.full_name) == ("en", "Ada Byron")


async def test_whatever_a_phone_sends_arrives_as_what_it_is(stage: Stage) -> None:
    picture = plain_png(300, 400)
    stage.ada.send("photo", data=picture, caption="look /help")
    for kind in ("voice", "sticker", "document", "location", "contact"):
        stage.ada.send(kind)
    photo, voice, sticker, document, location, contact = (each.message for each in await stage.bot.get_updates())
    assert photo is not None
    assert (photo.caption, photo.photo[-1].width, photo.photo[-1].height) == ("look /help", 300, 400)
    assert photo.caption_entities[0].type == "bot_command"
    fetched = await (await stage.bot.get_file(photo.photo[-1])).download_as_bytearray()
    assert bytes(fetched) == picture
    assert voice is not None
    assert voice.voice is not None
    assert sticker is not None
    assert sticker.sticker is not None
    assert document is not None
    assert document.document is not None
    assert location is not None
    assert location.location is not None
    assert contact is not None
    assert contact.contact is not None
    assert contact.contact.user_id == stage.ada.id
    assert [message.kind for message in stage.ada.screen().messages] == [
        *("text", "photo", "voice", "sticker", "document", "location", "contact")
    ]


async def test_an_album_is_several_messages_of_one_group(stage: Stage) -> None:
    numbers = stage.ada.send_album(3, caption="my wheel")
    stage.ada.send_album(2)
    messages = [update.message for update in await stage.bot.get_updates() if update.message]
    assert tuple(message.message_id for message in messages[:3]) == numbers
    assert [message.caption for message in messages[:3]] == ["my wheel", None, None]
    groups = [message.media_group_id for message in messages]
    assert [groups.count(group) for group in groups] == [3, 3, 3, 2, 2]


async def test_only_buttons_that_are_shown_can_be_pressed(stage: Stage) -> None:
    sent = await stage.bot.send_message(stage.ada.id, "?", reply_markup=keyboard("Yes", "No"))
    for button in ("Maybe", ""):
        with pytest.raises(NotPossible, match="no button"):
            stage.ada.press(button)
    await stage.bot.edit_message_text("Yes.", stage.ada.id, sent.message_id)
    with pytest.raises(NotPossible, match="no button 'Yes' is shown to Ada Byron"):
        stage.ada.press("Yes")
    stage.ada.press("Yes", stale=True)
    stage.ada.press("no", message=sent.message_id, stale=True)
    presses = [update.callback_query for update in await stage.bot.get_updates()]
    assert [each.data for each in presses if each] == ["yes", "no"]


async def test_a_press_under_a_message_that_is_gone_shows_no_message(stage: Stage) -> None:
    sent = await stage.bot.send_message(stage.ada.id, "?", reply_markup=keyboard("Yes"))
    await stage.bot.delete_message(stage.ada.id, sent.message_id)
    stage.ada.press("Yes", stale=True)
    (update,) = await stage.bot.get_updates()
    assert update.callback_query is not None
    assert update.callback_query.message is not None
    assert not update.callback_query.message.is_accessible
    assert update.callback_query.message.message_id == sent.message_id


async def test_people_edit_their_own_messages_only(stage: Stage) -> None:
    sent = await stage.bot.send_message(stage.ada.id, "?")
    for message, words in ((sent.message_id, "one's own"), (999, "no message 999")):
        with pytest.raises(NotPossible, match=words):
            stage.ada.edit(message, "!")
    number = stage.ada.send("photo", caption="12 splins")
    stage.ada.edit(number, "12 splines")
    edited = (await stage.bot.get_updates())[-1].edited_message
    assert edited is not None
    assert (edited.message_id, edited.caption) == (number, "12 splines")


async def test_phones_do_not_send_nothing_or_too_much(stage: Stage) -> None:
    for text in ("", "  ", "x" * 4097):
        with pytest.raises(NotPossible):
            stage.ada.write(text)
    with pytest.raises(NotPossible, match="send no smell"):
        stage.ada.send("smell")
    with pytest.raises(NotPossible, match="no chat -99"):
        stage.ada.write("a", chat=-99)


async def test_a_screen_can_be_read_as_it_looks(stage: Stage) -> None:
    first = await stage.bot.send_message(stage.ada.id, "Does it turn?\n\nSpin it.", reply_markup=keyboard("Yes", "No"))
    picture = await stage.bot.send_photo(stage.ada.id, plain_png(9, 9), caption="So.")
    await stage.bot.edit_message_text("It turns.", stage.ada.id, first.message_id, reply_markup=keyboard("Change it"))
    name = f"bot{stage.token[:9]}_bot"
    assert stage.ada.screen().drawn().splitlines() == [
        *(name, "", "Ada Byron:", "    /start", ""),
        *(f"{name} (edited):", "    It turns.", "    [ Change it ]", ""),
        *(f"{name}:", f"    <photo {picture.photo[-1].file_id}>", "    So."),
    ]


async def test_waiting_for_what_never_comes_shows_the_screen(stage: Stage) -> None:
    with pytest.raises(AssertionError, match=r"not seen within 0\.05 s:(.|\n)*/start"):
        await stage.ada.watch(lambda screen: screen.last.text == "never", within=0.05)
    with pytest.raises(AssertionError, match=r"not seen within 0\.05 s"):
        stage.ada.wait_for(lambda screen: screen.last.text == "never", within=0.05)
