"""What a bot may say, change and take back, and what it is refused; asked by the unmodified client."""

import asyncio
from typing import Any

import httpx
import pytest
from telegram import InlineKeyboardButton, InlineKeyboardMarkup, LinkPreviewOptions, ReplyParameters
from telegram.error import BadRequest

from tests.doubles.telegram import plain_png
from tests.doubles.telegram_tests.stage import Stage

pytestmark = pytest.mark.asyncio


def keyboard(*labels: str) -> InlineKeyboardMarkup:
    """One full-width button a label, which carries its label back in lower case."""
    return InlineKeyboardMarkup([[InlineKeyboardButton(label, callback_data=label.lower())] for label in labels])


async def test_a_message_stands_on_the_phone_with_its_buttons(stage: Stage) -> None:
    options = LinkPreviewOptions(is_disabled=True)
    sent = await stage.bot.send_message(
        stage.ada.id,
        "<b>Does it turn?</b> 12 &lt; 20",
        parse_mode="HTML",
        reply_markup=keyboard("It turns", "It stays"),
        link_preview_options=options,
    )
    shown = stage.ada.screen().last
    assert (shown.id, shown.text, shown.person) == (sent.message_id, "Does it turn? 12 < 20", 0)
    assert [[button.text for button in row] for row in shown.rows] == [["It turns"], ["It stays"]]
    assert [entity.type for entity in sent.entities] == ["bold"]
    assert sent.link_preview_options == options
    assert sent.chat.id == stage.ada.id
    assert sent.from_user == await stage.bot.get_me()


async def test_4096_characters_are_counted_after_the_tags(stage: Stage) -> None:
    await stage.bot.send_message(stage.ada.id, f"<b>{'🔧' * 4096}</b>", parse_mode="HTML")
    assert stage.ada.screen().last.text == "🔧" * 4096
    with pytest.raises(BadRequest, match=r"^Message is too long$"):
        await stage.bot.send_message(stage.ada.id, "x" * 4097)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("  \n ", "Message text is empty"),
        ("<b></b>", "Message text is empty"),
        ("<b>a</i>", 'Can\'t parse entities: unmatched end tag at byte offset 4, expected "</b>", found "</i>"'),
        ("1 < 2", 'Can\'t parse entities: unsupported start tag "" at byte offset 2'),
    ],
)
async def test_what_cannot_be_sent_is_refused(stage: Stage, text: str, words: str) -> None:
    before = stage.ada.screen()
    with pytest.raises(BadRequest) as refused:
        await stage.bot.send_message(stage.ada.id, text, parse_mode="HTML")
    assert str(refused.value).lower() == words.lower()
    assert stage.ada.screen() == before


async def test_a_button_carries_1_to_64_bytes(stage: Stage) -> None:
    def one(data: str) -> InlineKeyboardMarkup:
        return InlineKeyboardMarkup([[InlineKeyboardButton("a", callback_data=data)]])

    await stage.bot.send_message(stage.ada.id, "a", reply_markup=one("ä" * 32))
    for data in ("ä" * 33, "x" * 65, ""):
        with pytest.raises(BadRequest, match=r"(?i)button_data_invalid"):
            await stage.bot.send_message(stage.ada.id, "a", reply_markup=one(data))


async def test_a_button_must_do_something_and_its_address_must_be_one(stage: Stage) -> None:
    for button, words in (
        (InlineKeyboardButton("a"), "text buttons are unallowed"),
        (InlineKeyboardButton("a", url="ftp://a"), "button_url_invalid"),
    ):
        with pytest.raises(BadRequest, match=f"(?i){words}"):
            await stage.bot.send_message(stage.ada.id, "a", reply_markup=InlineKeyboardMarkup([[button]]))
    with pytest.raises(BadRequest, match=r"(?i)reply markup is too long"):
        await stage.bot.send_message(stage.ada.id, "a", reply_markup=keyboard(*map(str, range(101))))


async def test_an_answer_names_the_message_that_it_answers(stage: Stage) -> None:
    asked = stage.ada.write("how?")
    sent = await stage.bot.send_message(stage.ada.id, "so", reply_parameters=ReplyParameters(asked))
    assert sent.reply_to_message is not None
    assert sent.reply_to_message.text == "how?"
    assert stage.ada.screen().last.reply_to == asked
    with pytest.raises(BadRequest, match="Message to be replied not found"):
        await stage.bot.send_message(stage.ada.id, "so", reply_parameters=ReplyParameters(9999))
    loose = ReplyParameters(9999, allow_sending_without_reply=True)
    assert (await stage.bot.send_message(stage.ada.id, "so", reply_parameters=loose)).reply_to_message is None


async def test_an_edited_message_shows_the_new_text_and_loses_its_buttons(stage: Stage) -> None:
    sent = await stage.bot.send_message(stage.ada.id, "Does it turn?", reply_markup=keyboard("Yes", "No"))
    edited = await stage.bot.edit_message_text("Does it turn? Yes.", stage.ada.id, sent.message_id)
    assert not isinstance(edited, bool)
    assert edited.edit_date is not None
    shown = stage.ada.screen().last
    assert (shown.text, shown.buttons, shown.edited) == ("Does it turn? Yes.", (), True)


async def test_an_edit_that_changes_nothing_is_refused(stage: Stage) -> None:
    sent = await stage.bot.send_message(stage.ada.id, "a", reply_markup=keyboard("Yes"))
    where: dict[str, Any] = {"chat_id": stage.ada.id, "message_id": sent.message_id}
    with pytest.raises(BadRequest, match="Message is not modified: specified new message content and reply markup"):
        await stage.bot.edit_message_text("a", reply_markup=keyboard("Yes"), **where)
    with pytest.raises(BadRequest, match="Message is not modified"):
        await stage.bot.edit_message_reply_markup(reply_markup=keyboard("Yes"), **where)
    await stage.bot.edit_message_reply_markup(**where)
    assert stage.ada.screen().last.buttons == ()
    with pytest.raises(BadRequest, match="Message is not modified"):
        await stage.bot.edit_message_reply_markup(**where)


async def test_only_own_messages_that_are_there_can_be_edited(stage: Stage) -> None:
    mine = stage.ada.write("mine")
    with pytest.raises(BadRequest, match="Message can't be edited"):
        await stage.bot.edit_message_text("yours", stage.ada.id, mine)
    with pytest.raises(BadRequest, match="Message to edit not found"):
        await stage.bot.edit_message_text("a", stage.ada.id, 9999)
    sent = await stage.bot.send_message(stage.ada.id, "a")
    await stage.bot.delete_message(stage.ada.id, sent.message_id)
    with pytest.raises(BadRequest, match="Message to edit not found"):
        await stage.bot.edit_message_text("b", stage.ada.id, sent.message_id)


async def test_text_and_caption_are_edited_each_by_its_own_method(stage: Stage) -> None:
    text = await stage.bot.send_message(stage.ada.id, "a")
    picture = await stage.bot.send_photo(stage.ada.id, plain_png(40, 30), caption="b")
    with pytest.raises(BadRequest, match="There is no caption in the message to edit"):
        await stage.bot.edit_message_caption(stage.ada.id, text.message_id, caption="c")
    with pytest.raises(BadRequest, match="There is no text in the message to edit"):
        await stage.bot.edit_message_text("c", stage.ada.id, picture.message_id)
    await stage.bot.edit_message_caption(stage.ada.id, picture.message_id, caption="c")
    shown = stage.ada.screen().last
    assert (shown.text, shown.picture) == ("c", picture.photo[-1].file_id)
    with pytest.raises(BadRequest, match=r"(?i)message_too_long"):
        await stage.bot.edit_message_text("x" * 4097, stage.ada.id, text.message_id)


async def test_deleted_messages_are_gone_from_the_phone(stage: Stage) -> None:
    theirs = stage.ada.write("a")
    sent = await stage.bot.send_message(stage.ada.id, "b")
    assert await stage.bot.delete_message(stage.ada.id, sent.message_id)
    assert await stage.bot.delete_message(stage.ada.id, theirs)
    assert [message.text for message in stage.ada.screen().messages] == ["/start"]
    with pytest.raises(BadRequest, match="Message to delete not found"):
        await stage.bot.delete_message(stage.ada.id, sent.message_id)
    old = await stage.bot.send_message(stage.ada.id, "c")
    stage.telegram.skip(172_801)
    with pytest.raises(BadRequest, match="Message can't be deleted"):
        await stage.bot.delete_message(stage.ada.id, old.message_id)


async def test_a_picture_is_uploaded_once_and_then_sent_by_its_id(stage: Stage) -> None:
    picture = plain_png(1600, 900)
    sent = await stage.bot.send_photo(stage.ada.id, picture, caption="<i>here</i>", parse_mode="HTML")
    assert [(size.width, size.height) for size in sent.photo] == [(90, 51), (320, 180), (800, 450), (1280, 720)]
    again = await stage.bot.send_photo(stage.ada.id, sent.photo[-1].file_id)
    assert again.photo == sent.photo
    assert [message.picture for message in stage.ada.screen().from_bots] == [sent.photo[-1].file_id] * 2
    file = await stage.bot.get_file(sent.photo[0].file_id)
    assert bytes(await file.download_as_bytearray()) == picture


async def test_a_caption_has_1024_characters(stage: Stage) -> None:
    await stage.bot.send_photo(stage.ada.id, plain_png(9, 9), caption=f"<b>{'x' * 1024}</b>", parse_mode="HTML")
    with pytest.raises(BadRequest, match="Message caption is too long"):
        await stage.bot.send_photo(stage.ada.id, plain_png(9, 9), caption="x" * 1025)


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (b"no picture", "Image_process_failed"),
        (plain_png(9000, 1001), "Photo_invalid_dimensions"),
        (plain_png(21, 1), "Photo_invalid_dimensions"),
        (b"", "File must be non-empty"),
        ("AgACno-such-file", "Wrong file identifier/http url specified"),
    ],
)
async def test_what_is_no_picture_is_refused(stage: Stage, picture: bytes | str, words: str) -> None:
    with pytest.raises(BadRequest, match=words):
        await stage.bot.send_photo(stage.ada.id, picture)


async def test_a_jpeg_is_measured_too(stage: Stage) -> None:
    frame = bytes.fromhex("ffd8 ffe0 0004 0000 ffc0 000b 08 0078 00a0 01 011100 ffd9")
    sent = await stage.bot.send_photo(stage.ada.id, frame)
    assert (sent.photo[-1].width, sent.photo[-1].height) == (160, 120)


async def test_a_press_is_answered_with_a_notice(stage: Stage) -> None:
    await stage.bot.send_message(stage.ada.id, "a", reply_markup=keyboard("Yes", "No"))
    query = stage.ada.press("No")
    assert stage.ada.screen().unanswered == 1
    (update,) = await stage.bot.get_updates()
    assert update.callback_query is not None
    assert (update.callback_query.id, update.callback_query.data) == (query, "no")
    assert update.callback_query.message is not None
    assert update.callback_query.message.chat.id == stage.ada.id
    assert await update.callback_query.answer("Noted", show_alert=True)
    screen = stage.ada.screen()
    assert screen.unanswered == 0
    assert [(notice.text, notice.alert) for notice in screen.notices] == [("Noted", True)]
    with pytest.raises(BadRequest, match=r"(?i)message_too_long"):
        await stage.bot.answer_callback_query(query, "x" * 201)


async def test_a_press_that_is_too_old_cannot_be_answered(stage: Stage) -> None:
    words = "Query is too old and response timeout expired or query id is invalid"
    with pytest.raises(BadRequest, match=f"(?i){words}"):
        await stage.bot.answer_callback_query("12345")
    await stage.bot.send_message(stage.ada.id, "a", reply_markup=keyboard("Yes"))
    stage.telegram.tune(press_answered_within=0.05)
    query = stage.ada.press("Yes")
    await asyncio.sleep(0.06)
    with pytest.raises(BadRequest, match=f"(?i){words}"):
        await stage.bot.answer_callback_query(query)
    assert stage.ada.screen().unanswered == 1


async def test_a_markup_language_that_is_not_modelled_is_refused(stage: Stage) -> None:
    with pytest.raises(BadRequest, match="Unsupported parse_mode"):
        await stage.bot.send_message(stage.ada.id, "*a*", parse_mode="MarkdownV2")


async def test_arguments_come_as_a_form_as_json_or_in_the_address(stage: Stage) -> None:
    url = f"{stage.telegram.base_url}{stage.token}/SendMessage"
    arguments: dict[str, Any] = {"chat_id": stage.ada.id, "text": "ä & b"}
    with_buttons = arguments | {"reply_markup": {"inline_keyboard": [[{"text": "Yes", "callback_data": "yes"}]]}}
    async with httpx.AsyncClient(trust_env=False) as plain:
        answers = [
            await plain.post(url, data=arguments),
            await plain.post(url, json=with_buttons),
            await plain.get(url, params=arguments),
            await plain.post(url, data=arguments, files={"unused": b"\0\r\n--"}),
        ]
        broken = await plain.post(url, data=arguments | {"reply_markup": "{no json"})
        without = await plain.post(url, json={"text": "to nobody"})
        unread = await plain.post(url, content=b"{", headers={"Content-Type": "application/json"})
    assert [answer.json()["result"]["text"] for answer in answers] == ["ä & b"] * 4
    assert stage.ada.screen().messages[2].buttons[0].data == "yes"
    assert broken.json()["description"] == "Bad Request: can't parse reply keyboard markup JSON object"
    assert without.json() == {"ok": False, "error_code": 400, "description": "Bad Request: chat_id is empty"}
    assert (unread.status_code, unread.json()["ok"]) == (400, False)
