"""The methods about the bot itself, its menus and descriptions, and about chats and files."""

import re

from tests.doubles.telegram import rules
from tests.doubles.telegram.calls import Call
from tests.doubles.telegram.rules import Refusal
from tests.doubles.telegram.world import Bot, Chat, Json

COMMAND = re.compile(r"[a-z0-9_]{1,32}")
#: What a scope needs beside its type.
SCOPES: dict[str, tuple[str, ...]] = {
    "default": (),
    "all_private_chats": (),
    "all_group_chats": (),
    "all_chat_administrators": (),
    "chat": ("chat_id",),
    "chat_administrators": ("chat_id",),
    "chat_member": ("chat_id", "user_id"),
}


def get_me(call: Call) -> Json:
    abilities = ("supports_inline_queries", "can_connect_to_business", "has_main_web_app")
    reads_all = {"can_join_groups": True, "can_read_all_group_messages": call.bot.reads_all}
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


def delete_commands(call: Call) -> bool:
    call.bot.commands.pop((_scope(call), call.text("language_code")), None)
    return True


def _scope(call: Call) -> str:
    given = call.value("scope") or {"type": "default"}
    if not isinstance(given, dict) or given.get("type") not in SCOPES:
        raise Refusal("scope")
    parts = [str(given["type"])]
    for needed in SCOPES[parts[0]]:
        if needed not in given:
            raise Refusal("no-chat-id" if needed == "chat_id" else "no-user")
        if needed == "chat_id":
            parts.append(str(call.chat(writes=False, asked=str(given["chat_id"])).id))
        else:
            parts.append(str(given[needed]))
    return ":".join(parts)


def menu(bot: Bot, chat: Chat, person: int, language: str) -> list[Json]:
    """The commands that a person sees in a chat: the narrowest scope that has any, their language before none.

    Nobody is an administrator here.
    """
    scopes = [f"chat_member:{chat.id}:{person}"] if chat.kind != "private" else []
    scopes += [f"chat:{chat.id}", "all_private_chats" if chat.kind == "private" else "all_group_chats", "default"]
    for scope in scopes:
        for tongue in dict.fromkeys((language, "")):
            if (scope, tongue) in bot.commands:
                return bot.commands[scope, tongue]
    return []


def _texts(call: Call) -> tuple[dict[str, str], str, int]:
    """Where the text of this method is kept, under which name, and how long it may be."""
    if call.method.endswith("shortdescription"):
        return call.bot.short_descriptions, "short_description", rules.MOST_SHORT_DESCRIPTION
    if call.method.endswith("description"):
        return call.bot.descriptions, "description", rules.MOST_DESCRIPTION
    return call.bot.names, "name", 64


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


def get_chat(call: Call) -> Json:
    chat = call.chat(writes=False)
    gifts = ("unlimited_gifts", "limited_gifts", "unique_gifts", "premium_subscription", "gifts_from_channels")
    full: Json = {"accent_color_id": chat.id % 7, "max_reaction_count": 11}
    full["accepted_gift_types"] = dict.fromkeys(gifts, False)
    if chat.kind != "private":
        full["permissions"] = {"can_send_messages": True, "can_send_photos": True}
    return chat.json() | full


def leave_chat(call: Call) -> bool:
    chat = call.chat(writes=False)
    if chat.kind == "private":
        raise Refusal("no-leaving")
    chat.members.discard(call.bot.user.id)
    return True


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
