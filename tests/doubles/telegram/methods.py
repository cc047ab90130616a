"""What a bot may ask for: saying and editing, topics, its own menus and descriptions, files. `METHODS` is the table.

Only a bot that was given the right may make topics (`Chat.topic_makers`). A topic begins with a message of the
platform's about itself, whose number is the topic's; what people write in it answers that one unless they choose
another.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from tests.doubles.telegram import receiving, rules
from tests.doubles.telegram.calls import Call
from tests.doubles.telegram.content import Entity, measure, parse_html, parse_markup, sizes
from tests.doubles.telegram.rules import Refusal
from tests.doubles.telegram.world import Bot, Chat, File, Json, Message, Topic


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


def send_album(call: Call) -> list[Json]:
    given = call.value("media")
    if not isinstance(given, list) or not 2 <= len(given) <= rules.MOST_OF_AN_ALBUM:
        raise Refusal("album-size")
    contents = []
    for each in given:
        own = replace(call, params={**call.params, **each, "photo": each.get("media")})
        if each.get("type") != "photo":
            raise Refusal("album-kind")
        contents.append({"photo": sizes(_file(own, "photo", rules.MOST_PICTURE, "photos"))} | _caption(own))
    chat = call.chat()
    thread, replied = call.thread(chat), call.replied(chat)
    for _ in contents:
        call.platform.count(call.bot, chat)
    group = f"{chat.id}{call.platform.world.number_press()}"
    return [
        call.platform.post(
            call.bot, chat, call.bot.user, content | {"media_group_id": group}, thread=thread, reply_to=replied
        ).json()
        for content in contents
    ]


def send_document(call: Call) -> Json:
    file = _file(call, "document", rules.MOST_UPLOAD, "documents")
    return _post(call, {"document": file.json()} | _caption(call))


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


_COLOUR = 7322096


def create_topic(call: Call) -> Json:
    chat, name = _forum(call), call.needed("name")
    made: Json = {"name": name, "icon_color": _COLOUR}
    message = call.platform.post(call.bot, chat, call.bot.user, {"forum_topic_created": made})
    message.thread = message.id
    chat.topics[message.id] = Topic(name)
    return made | {"message_thread_id": message.id}


def close_topic(call: Call) -> bool:
    _topic(call).closed = True
    return True


def reopen_topic(call: Call) -> bool:
    _topic(call).closed = False
    return True


def _forum(call: Call) -> Chat:
    chat = call.chat()
    if not chat.topics:
        raise Refusal("no-forum")
    if call.bot.user.id not in chat.topic_makers:
        raise Refusal("topic-rights")
    return chat


def _topic(call: Call) -> Topic:
    topic = _forum(call).topics.get(call.number("message_thread_id"))
    if topic is None:
        raise Refusal("no-thread")
    return topic


def get_chat(call: Call) -> Json:
    return call.chat().json()


def get_chat_member(call: Call) -> Json:
    chat, who = call.chat(), call.number("user_id")
    if who in chat.kicked:
        return {"status": "kicked"}
    if who in chat.topic_makers:
        return {"status": "administrator", "can_manage_topics": True}
    return {"status": "member" if who in chat.members else "left"}


def count_members(call: Call) -> int:
    return len(call.chat().members)


COMMAND = re.compile(r"[a-z0-9_]{1,32}")
SCOPES = ("default", "all_private_chats", "all_group_chats")


def get_me(call: Call) -> Json:
    abilities = ("supports_inline_queries", "can_connect_to_business", "has_main_web_app")
    reads_all = {"can_join_groups": True, "can_read_all_group_messages": False}
    return call.bot.user.json() | reads_all | dict.fromkeys(abilities, False)


def set_commands(call: Call) -> bool:
    given = call.value("commands")
    if not isinstance(given, list):
        raise Refusal("no-argument", name="commands")
    if len(given) > rules.MOST_COMMANDS:
        raise Refusal("commands-too-much")
    commands = []
    for each in given:
        if not isinstance(each, dict) or not COMMAND.fullmatch(str(each.get("command", "")).removeprefix("/")):
            raise Refusal("command")
        if not 1 <= len(str(each.get("description", ""))) <= rules.MOST_COMMAND_DESCRIPTION:
            raise Refusal("command-description")
        commands.append({"command": each["command"].removeprefix("/"), "description": each["description"]})
    key = (_scope(call), call.text("language_code"))
    if commands:
        call.bot.commands[key] = commands
    else:
        call.bot.commands.pop(key, None)
    return True


def get_commands(call: Call) -> list[Json]:
    return call.bot.commands.get((_scope(call), call.text("language_code")), [])


def _scope(call: Call) -> str:
    given = call.value("scope") or {"type": "default"}
    if not isinstance(given, dict) or given.get("type") not in SCOPES:
        raise Refusal("scope")
    return str(given["type"])


def menu(bot: Bot, chat: Chat, language: str) -> list[Json]:
    """The commands that a person sees in a chat: the narrowest scope that has any, their language before none."""
    for scope in ("all_private_chats" if chat.kind == "private" else "all_group_chats", "default"):
        for tongue in dict.fromkeys((language, "")):
            if (scope, tongue) in bot.commands:
                return bot.commands[scope, tongue]
    return []


def _texts(call: Call) -> tuple[dict[str, str], str, int]:
    """Where the text of this method is kept, under which name, and how long it may be."""
    if call.method.endswith("shortdescription"):
        return call.bot.short_descriptions, "short_description", rules.MOST_SHORT_DESCRIPTION
    return call.bot.descriptions, "description", rules.MOST_DESCRIPTION


def set_text(call: Call) -> bool:
    texts, name, most = _texts(call)
    text, language = call.text(name), call.text("language_code")
    if len(text) > most:
        raise Refusal("description-too-long")
    if text:
        texts[language] = text
    else:
        texts.pop(language, None)
    return True


def get_text(call: Call) -> Json:
    texts, name, _ = _texts(call)
    return {name: texts.get(call.text("language_code"), texts.get("", ""))}


def get_file(call: Call) -> Json:
    name = call.text("file_id")
    file = call.bot.file(name)
    if file is None:
        raise Refusal("get-file-id")
    if len(file.data) > rules.MOST_DOWNLOAD:
        raise Refusal("file-too-big")
    return file.json() | {"file_id": name, "file_path": file.path}


def download(bot: Bot, path: str) -> bytes | None:
    """What stands at a `file_path` that getFile named to this bot."""
    return next((file.data for file in bot.files.values() if file.path == path), None)


#: LoadedCase without the lock, since it waits.
WAITS = "getupdates"

METHODS: dict[str, Callable[[Call], Any]] = {
    "getme": get_me,
    "setwebhook": receiving.set_webhook,
    "deletewebhook": receiving.delete_webhook,
    "getwebhookinfo": receiving.get_webhook_info,
    "sendmessage": send_message,
    "sendphoto": send_photo,
    "senddocument": send_document,
    "sendmediagroup": send_album,
    "editmessagetext": edit_text,
    "editmessagecaption": edit_caption,
    "editmessagereplymarkup": edit_markup,
    "deletemessage": delete_message,
    "answercallbackquery": answer_press,
    "setmycommands": set_commands,
    "getmycommands": get_commands,
    "setmydescription": set_text,
    "getmydescription": get_text,
    "setmyshortdescription": set_text,
    "getmyshortdescription": get_text,
    "getfile": get_file,
    "getchat": get_chat,
    "getchatmember": get_chat_member,
    "getchatmembercount": count_members,
    "createforumtopic": create_topic,
    "closeforumtopic": close_topic,
    "reopenforumtopic": reopen_topic,
}
