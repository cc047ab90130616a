"""What people do on their phones, and which bots hear of it.

A person can only do what their phone would let them: press a button that is shown, edit a message of their own, write
to a bot that they have not stopped. Anything else is a fault of the script and raises `NotPossible`.
"""

from collections.abc import Iterable
from typing import Any

from tests.doubles.telegram.content import found, measure, plain_png, sizes
from tests.doubles.telegram.platform import Platform
from tests.doubles.telegram.world import Bot, Chat, Json, Keyboard, Message, User


class NotPossible(AssertionError):  # noqa: N818 - says what, like the assertions of a test
    """A scripted person was to do something that their phone would not let them do."""


class Phones:
    """The acts; every one takes the platform's lock."""

    def __init__(self, platform: Platform) -> None:
        self.platform = platform
        self.world = platform.world

    # Who and where

    def bot(self, token: str = "") -> Bot:
        bots = self.world.bots
        if not bots:
            raise NotPossible("there is no bot yet")
        return bots[token] if token else next(iter(bots.values()))

    def person(self, number: int) -> User:
        person = self.world.users.get(number)
        if person is None or person.is_bot:
            raise NotPossible(f"there is no person {number}")
        return person

    def chat(self, person: int, chat: int = 0, bot: str = "") -> Chat:
        """A group by its number; without one, the person's private chat with the bot."""
        if not chat or chat == person:
            return self.world.private(self.bot(bot), self.person(person))
        if chat not in self.world.groups:
            raise NotPossible(f"there is no chat {chat}")
        return self.world.groups[chat]

    # Speaking

    def say(self, person: int, content: Json, *, chat: int, bot: str, thread: int, reply_to: int) -> Message:
        """Puts the message into the chat and tells the bots that may hear it."""
        with self.platform.lock:
            who, where = self.person(person), self.chat(person, chat, bot)
            self._may_write(who, where)
            where.started = True
            replied = self._seen(where, reply_to) if reply_to else where.messages.get(thread)
            speaks_to = self.bot(bot) if where.kind == "private" else None
            message = self.platform.post(speaks_to, where, who, content, thread=thread, reply_to=replied)
            self._tell("message", message)
            return message

    def write(self, person: int, text: str, *, chat: int = 0, bot: str = "", thread: int = 0, reply_to: int = 0) -> int:
        if not text.strip() or len(text) > 4096:
            raise NotPossible("a phone sends texts of 1 to 4096 characters")
        content = _text("text", text.strip())
        return self.say(person, content, chat=chat, bot=bot, thread=thread, reply_to=reply_to).id

    def send(self, person: int, kind: str, *, caption: str = "", data: bytes = b"", facts: Json | None = None,
             group: str = "", chat: int = 0, bot: str = "", thread: int = 0, reply_to: int = 0) -> int:  # fmt: skip
        """A photo, voice message, sticker, document, location or contact; `facts` overrides what it says of itself."""
        with self.platform.lock:
            where = self.chat(person, chat, bot)
            bots = [self.bot(bot)] if where.kind == "private" else self.world.bots_of(where)
            content = {kind: self._media(kind, bots, data, facts or {}, self.person(person))}
            content |= _text("caption", caption) if caption else {}
            content |= {"media_group_id": group} if group else {}
            return self.say(person, content, chat=chat, bot=bot, thread=thread, reply_to=reply_to).id

    def _media(self, kind: str, bots: list[Bot], data: bytes, facts: Json, person: User) -> Any:
        add = self.world.add_file
        if kind == "photo":
            picture = data or plain_png(1280, 960)
            ending, width, height = measure(picture)
            file = add(bots, picture, "photos", ending, mime=f"image/{ending}", width=width, height=height)
            return sizes(file)
        if kind == "voice":
            return add(bots, data or b"OggS", "voice", "oga").json() | {"duration": 3, "mime_type": "audio/ogg"} | facts
        if kind == "sticker":
            looks = {"type": "regular", "width": 512, "height": 512, "is_animated": False, "is_video": False}
            return add(bots, data or b"RIFF", "stickers", "webp").json() | looks | {"emoji": "👍"} | facts
        if kind == "document":
            return add(bots, data or b"%PDF", "documents", "pdf").json() | {"file_name": "file.pdf"} | facts
        if kind == "location":
            return {"latitude": 48.5, "longitude": 9.25} | facts
        if kind == "contact":
            return {"phone_number": "+10000000", "first_name": person.first_name, "user_id": person.id} | facts
        raise NotPossible(f"phones here send no {kind}")

    def edit(self, person: int, message: int, text: str, *, chat: int = 0, bot: str = "") -> int:
        with self.platform.lock:
            mine = self._seen(self.chat(person, chat, bot), message)
            if mine.sender.id != person:
                raise NotPossible("only one's own messages can be edited")
            name = "text" if "text" in mine.content else "caption"
            kept = {key: value for key, value in mine.content.items() if not key.endswith("entities")}
            mine.content, mine.edited = kept | _text(name, text), self.platform.clock.now()
            self._tell("edited_message", mine)
            return mine.id

    def press(self, person: int, button: str, *, message: int = 0, chat: int = 0, bot: str = "",
              stale: bool = False) -> str:  # fmt: skip
        """Presses the button with that label, or else that data; the press's query id.

        Without a message, the last one that has such a button. `stale` is a phone that still shows what was there
        before an edit.
        """
        with self.platform.lock:
            who, where = self.person(person), self.chat(person, chat, bot)
            self._may_write(who, where)
            shown = [self._seen(where, message)] if message else list(reversed(where.messages.values()))
            for each in shown:
                data = _data_of(button, _keyboards(each, stale=stale)) if stale or not each.deleted else None
                if data is not None:
                    return self._pressed(who, each, data)
            raise NotPossible(f"no button {button!r} is shown to {who.name}")

    def _pressed(self, who: User, message: Message, data: str) -> str:
        owner = next(bot for bot in self.world.bots.values() if bot.user is message.sender)
        press = self.platform.press(owner, who, message, data)
        self.platform.tell(owner, "callback_query", who.id, press.json(), lane=("press", who.id))
        return press.id

    # Being there or not

    def block(self, person: int, bot: str = "") -> None:
        self._standing(person, bot, blocked=True)

    def unblock(self, person: int, bot: str = "") -> None:
        self._standing(person, bot, blocked=False)

    def _standing(self, person: int, bot: str, *, blocked: bool) -> None:
        with self.platform.lock:
            where = self.chat(person, 0, bot)
            if where.blocked is not blocked:
                where.blocked = blocked
                before, after = ("member", "kicked") if blocked else ("kicked", "member")
                self._status(self.bot(bot), where, self.person(person), before, after)

    def add_group(self, by: int, title: str, *, kind: str = "supergroup",
                  topics: Iterable[str] = (), people: Iterable[int] = (), bots: Iterable[str] = ()) -> int:  # fmt: skip
        """A group that `by` makes, with people in it; the named bots are then added to it."""
        with self.platform.lock:
            if kind not in ("group", "supergroup"):
                raise NotPossible(f"there are no groups of kind {kind}")
            group = self.world.add_group("group" if kind == "group" else "supergroup", title, topics=tuple(topics))
            group.members |= {by, *people}
            for bot in bots:
                self.invite(by, group.id, bot)
            return group.id

    def invite(self, by: int, group: int, bot: str = "") -> None:
        with self.platform.lock:
            where, guest = self.chat(by, group), self.bot(bot)
            where.members.add(guest.user.id)
            where.kicked.discard(guest.user.id)
            self._status(guest, where, self.person(by), "left", "member")
            self._happened(where, self.person(by), {"new_chat_members": [guest.user.json()]})

    def throw_out(self, by: int, group: int, bot: str = "") -> None:
        with self.platform.lock:
            where, guest = self.chat(by, group), self.bot(bot)
            where.members.discard(guest.user.id)
            where.kicked.add(guest.user.id)
            self._status(guest, where, self.person(by), "member", "kicked")

    def leave(self, by: int, group: int) -> None:
        """Somebody leaves a group that they are in."""
        with self.platform.lock:
            self.chat(by, group).members.discard(by)

    def migrate(self, by: int, group: int) -> int:
        """A basic group becomes a supergroup with another number, which both chats are told of."""
        with self.platform.lock:
            old = self.chat(by, group)
            new = self.world.add_group("supergroup", old.title)
            new.members |= old.members
            self._happened(old, self.person(by), {"migrate_to_chat_id": new.id})
            old.migrated_to = new.id
            self._happened(new, self.person(by), {"migrate_from_chat_id": old.id})
            return new.id

    # Who hears what

    def _may_write(self, who: User, where: Chat) -> None:
        if where.blocked:
            raise NotPossible(f"{who.name} has stopped the bot")
        if where.kind != "private" and (who.id not in where.members or where.migrated_to):
            raise NotPossible(f"{who.name} cannot write in {where.title}")

    def _seen(self, where: Chat, number: int) -> Message:
        message = where.messages.get(number)
        if message is None or message.deleted:
            raise NotPossible(f"there is no message {number}")
        return message

    def _happened(self, where: Chat, who: User, content: Json) -> None:
        self._tell("message", self.platform.post(None, where, who, content))

    def _tell(self, kind: str, message: Message) -> None:
        where = message.chat
        for bot in self.world.bots_of(where):
            is_own = where.kind == "private" and bot.private.get(where.id) is where
            if is_own or (where.kind != "private" and _is_meant(bot, message)):
                body, lane = message.json(), ("message", where.id)
                self.platform.tell(bot, kind, message.sender.id, body, lane=lane)

    def _status(self, bot: Bot, where: Chat, by: User, before: str, after: str) -> None:
        def member(status: str) -> Json:
            return {"user": bot.user.json(), "status": status} | ({"until_date": 0} if status == "kicked" else {})

        body = {"chat": where.json(), "from": by.json(), "date": int(self.platform.clock.now())}
        body |= {"old_chat_member": member(before), "new_chat_member": member(after)}
        self.platform.tell(bot, "my_chat_member", by.id, body, lane=("message", where.id))


def _text(name: str, text: str) -> Json:
    marks = found(text)
    return {name: text} | ({"entities" if name == "text" else f"{name}_entities": marks} if marks else {})


def _is_meant(bot: Bot, message: Message) -> bool:
    """What a bot in privacy mode hears in a group: its commands, replies to it, mentions of it, and what happens."""
    content = message.content
    if not any(name in content for name in ("text", "caption")):
        is_media = any(name in content for name in ("photo", "voice", "sticker", "document", "location", "contact"))
        return not is_media or _answers(bot, message)
    text: str = content.get("text") or content.get("caption") or ""
    address = f"@{bot.user.username}".lower()
    for mark in content.get("entities") or content.get("caption_entities") or []:
        said = text.encode("utf-16-le")[2 * mark["offset"] : 2 * (mark["offset"] + mark["length"])].decode("utf-16-le")
        if mark["type"] == "mention" and said.lower() == address:
            return True
        if mark["type"] == "bot_command":
            to = said.partition("@")[2].lower()
            if f"@{to}" == address or (not to and _spoke_last(bot, message)):
                return True
    return _answers(bot, message)


def _answers(bot: Bot, message: Message) -> bool:
    return message.reply_to is not None and message.reply_to.sender is bot.user


def _spoke_last(bot: Bot, message: Message) -> bool:
    """Whether no other bot spoke in the group after this one; a bot alone in a group hears every command."""
    spoken = [each.sender for each in message.chat.messages.values() if each.sender.is_bot]
    return not spoken or spoken[-1] is bot.user


def _keyboards(message: Message, *, stale: bool) -> list[Keyboard]:
    return [message.keyboard, *reversed(message.earlier)] if stale else [message.keyboard]


def _data_of(button: str, keyboards: list[Keyboard]) -> str | None:
    for name in ("text", "callback_data"):
        for keyboard in keyboards:
            for row in keyboard:
                for each in row:
                    if each.get(name) == button and "callback_data" in each:
                        return str(each["callback_data"])
    return None
