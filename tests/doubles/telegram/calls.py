"""One request of a bot: who asks, for what, with which arguments, and the arguments read as the platform reads them."""

import json
from dataclasses import dataclass, field
from typing import Any

from tests.doubles.telegram.platform import Platform
from tests.doubles.telegram.rules import Refusal
from tests.doubles.telegram.world import SUPERGROUPS, Bot, Chat, Json, Message


@dataclass(frozen=True, slots=True)
class Call:
    """Arguments come as text from forms and as values from JSON; both are taken."""

    platform: Platform
    bot: Bot
    method: str
    params: Json
    uploads: dict[str, bytes] = field(default_factory=dict)

    def text(self, name: str) -> str:
        value = self.params.get(name)
        return "" if value is None else str(value)

    def needed(self, name: str) -> str:
        value = self.text(name)
        if not value:
            raise Refusal("no-argument", name=name)
        return value

    def number(self, name: str, default: int = 0, least: int | None = None, most: int | None = None) -> int:
        """A whole number, brought within its bounds; what is no number counts as not given."""
        try:
            value = int(self.params.get(name, default))
        except (TypeError, ValueError):
            value = default
        value = value if least is None else max(least, value)
        return value if most is None else min(most, value)

    def flag(self, name: str) -> bool:
        return self.text(name).strip().lower() in ("true", "yes", "1")

    def value(self, name: str) -> Any:
        """A structured argument, None if it was not given."""
        given = self.params.get(name)
        if not isinstance(given, str):
            return given
        if not given:
            return None
        try:
            return json.loads(given)
        except ValueError:
            raise Refusal("not-json", name=name) from None

    def message_id(self, name: str = "message_id") -> int:
        number = self.number(name)
        if number <= 0:
            raise Refusal("no-message-id")
        return number

    def chat(self, *, writes: bool = True, asked: str | None = None) -> Chat:
        """The chat that is meant, if the bot may read (or write) there."""
        asked = self.text("chat_id") if asked is None else asked
        if not asked:
            raise Refusal("no-chat-id")
        chat = self._find(asked)
        if chat.person is not None:
            _check_private(chat)
        else:
            _check_group(self.bot, chat)
        if writes and chat.person is not None and chat.blocked:
            raise Refusal("blocked")
        return chat

    def _find(self, asked: str) -> Chat:
        world = self.platform.world
        try:
            number = int(asked)
        except ValueError:
            raise Refusal("no-chat") from None
        if number < 0:
            if number not in world.groups:
                raise Refusal("no-chat")
            return world.groups[number]
        person = world.users.get(number)
        if person is None or person.is_bot:
            raise Refusal("no-chat")
        return world.private(self.bot, person)

    def replied(self, chat: Chat) -> Message | None:
        """The message that is answered, from `reply_parameters` or the older `reply_to_message_id`."""
        given = self.value("reply_parameters") or {}
        if not isinstance(given, dict):
            raise Refusal("not-json", name="reply_parameters")
        number = given.get("message_id") or self.number("reply_to_message_id")
        if not number:
            return None
        message = chat.messages.get(int(number))
        if message is not None and not message.deleted:
            return message
        if given.get("allow_sending_without_reply") or self.flag("allow_sending_without_reply"):
            return None
        raise Refusal("no-replied")

    def thread(self, chat: Chat) -> int:
        """The topic that is written in, 0 for none; it must stand and be open."""
        number = self.number("message_thread_id")
        if not number:
            return 0
        if number not in chat.topics:
            raise Refusal("no-thread")
        if chat.topics[number].closed:
            raise Refusal("topic-closed")
        return number


def _check_private(chat: Chat) -> None:
    assert chat.person is not None
    if chat.person.gone:
        raise Refusal("deactivated")
    if not chat.started:
        raise Refusal("never-started")


def _check_group(bot: Bot, chat: Chat) -> None:
    if chat.migrated_to:
        raise Refusal("migrated", parameters={"migrate_to_chat_id": chat.migrated_to})
    kind = "supergroup" if chat.id < SUPERGROUPS else "group"
    if bot.user.id in chat.kicked:
        raise Refusal("kicked", kind=kind)
    if bot.user.id not in chat.members:
        raise Refusal("not-member", kind=kind)
