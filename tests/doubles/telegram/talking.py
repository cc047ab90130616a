"""The methods by which a bot says something, changes it and takes it back."""

from typing import Any

from tests.doubles.telegram import rules
from tests.doubles.telegram.calls import Call
from tests.doubles.telegram.entities import Entity, parse_html
from tests.doubles.telegram.keyboards import parse_markup
from tests.doubles.telegram.pictures import measure, sizes
from tests.doubles.telegram.rules import Refusal
from tests.doubles.telegram.world import File, Json, Message

ACTIONS = (
    *("typing", "upload_photo", "record_video", "upload_video", "record_voice", "upload_voice", "upload_document"),
    *("choose_sticker", "find_location", "record_video_note", "upload_video_note"),
)


def send_message(call: Call) -> Json:
    text, entities = _formatted(call, "text", "entities")
    if not text:
        raise Refusal("empty")
    if len(text) > rules.MOST_TEXT:
        raise Refusal("too-long")
    return _post(call, _content("text", text, entities) | _preview(call))


def send_photo(call: Call) -> Json:
    file = _file(call, "photo", rules.MOST_PICTURE, "photos")
    return _post(call, {"photo": sizes(file)} | _caption(call))


def send_document(call: Call) -> Json:
    file = _file(call, "document", rules.MOST_UPLOAD, "documents")
    return _post(call, {"document": file.json() | {"file_name": file.path.rpartition("/")[2]}} | _caption(call))


def send_chat_action(call: Call) -> bool:
    call.thread(call.chat())
    if call.needed("action") not in ACTIONS:
        raise Refusal("action")
    return True


def edit_text(call: Call) -> Json:
    message = _own(call)
    text, entities = _formatted(call, "text", "entities")
    if not text:
        raise Refusal("empty")
    if "text" not in message.content:
        raise Refusal("edit-no-text")
    if len(text) > rules.MOST_TEXT:
        raise Refusal("edit-too-long")
    return _change(call, message, _content("text", text, entities) | _preview(call))


def edit_caption(call: Call) -> Json:
    message = _own(call)
    if "text" in message.content:
        raise Refusal("edit-no-caption")
    kept = {key: value for key, value in message.content.items() if not key.startswith("caption")}
    return _change(call, message, kept | _caption(call))


def edit_markup(call: Call) -> Json:
    message = _own(call)
    return _change(call, message, message.content)


def delete_message(call: Call) -> bool:
    chat = call.chat()
    message = chat.messages.get(call.message_id())
    if message is None or message.deleted:
        raise Refusal("delete-missing")
    is_own = message.sender is call.bot.user or chat.kind == "private"
    if not is_own or call.platform.clock.now() - message.date > rules.DELETED_WITHIN:
        raise Refusal("delete-refused")
    message.deleted = True
    return True


def answer_press(call: Call) -> bool:
    press = call.bot.presses.get(call.text("callback_query_id"))
    if press is None or call.platform.clock.now() - press.at > call.platform.press_answered_within:
        raise Refusal("press-too-old")
    notice = call.text("text")
    if len(notice) > rules.MOST_NOTICE:
        raise Refusal("notice-too-long")
    if not press.answered:
        press.answered, press.notice, press.alert = True, notice, call.flag("show_alert")
    return True


def _formatted(call: Call, name: str, entities: str) -> tuple[str, list[Entity]]:
    text, mode = call.text(name), call.text("parse_mode")
    if mode.lower() == "html":
        return parse_html(text)
    if mode:
        raise Refusal("parse-mode")
    given = call.value(entities) or []
    if not isinstance(given, list):
        raise Refusal("not-json", name=entities)
    return text.strip(), given


def _content(name: str, text: str, entities: list[Entity]) -> Json:
    marks = "entities" if name == "text" else f"{name}_entities"
    return {name: text} | ({marks: entities} if entities else {})


def _caption(call: Call) -> Json:
    caption, entities = _formatted(call, "caption", "caption_entities")
    if len(caption) > rules.MOST_CAPTION:
        raise Refusal("caption-too-long")
    return _content("caption", caption, entities) if caption else {}


def _preview(call: Call) -> Json:
    options = call.value("link_preview_options")
    return {"link_preview_options": options} if isinstance(options, dict) and options else {}


def _post(call: Call, content: Json) -> Json:
    keyboard = parse_markup(call.params.get("reply_markup"))
    chat = call.chat()
    thread, replied = call.thread(chat), call.replied(chat)
    call.platform.count(call.bot, chat)
    message = call.platform.post(
        call.bot, chat, call.bot.user, content, thread=thread, reply_to=replied, keyboard=keyboard
    )
    return message.json()


def _own(call: Call) -> Message:
    """The message to edit, which must be one that the bot sent."""
    chat = call.chat()
    message = chat.messages.get(call.message_id())
    if message is None or message.deleted:
        raise Refusal("edit-missing")
    if message.sender is not call.bot.user:
        raise Refusal("edit-refused")
    return message


def _change(call: Call, message: Message, content: Json) -> Json:
    """A message edited without markup loses its buttons."""
    keyboard = parse_markup(call.params.get("reply_markup"))
    if content == message.content and keyboard == message.keyboard:
        raise Refusal("not-modified")
    call.platform.count(call.bot, message.chat, is_edit=True)
    message.earlier.append(message.keyboard)
    message.content, message.keyboard, message.edited = content, keyboard, call.platform.clock.now()
    return message.json()


def _file(call: Call, name: str, most: int, folder: str) -> File:
    """The file of an argument: uploaded under its name or as attach://…, or known by its id."""
    given: Any = call.params.get(name)
    upload = call.uploads.get(name)
    if upload is None and isinstance(given, str) and given.startswith("attach://"):
        upload = call.uploads.get(given.removeprefix("attach://"))
    if upload is None:
        if not given:
            raise Refusal("no-file", what=name)
        file = call.bot.file(str(given))
        if file is None or (name == "photo" and not file.width):
            raise Refusal("file-id")
        return file
    if not upload:
        raise Refusal("file-empty")
    if len(upload) > most:
        raise Refusal("file-too-big")
    facts: Json = {}
    ending = "bin"
    if name == "photo":
        ending, width, height = measure(upload)
        facts = {"mime": f"image/{ending}", "width": width, "height": height}
    return call.platform.world.add_file([call.bot], upload, folder, ending, **facts)
