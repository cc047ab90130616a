"""What an update of the platform says, in the delivery's words. Pure: nothing is looked up or sent here.

Decided here and nowhere else:
- in a group only what is addressed to the bot counts: a command, its name in the text, a reply to one of its messages;
  a case belongs to one person in one thread of one group;
- a group that became a supergroup keeps its first number as the name of its conversations;
- the buttons of a message belong to the person whose question it shows;
- several photos sent as one album are one message;
- in the staff's room only an explicit reply to a message of the bot's counts, with the code that stands first in that
  message; what is written in a topic replies to the topic's own beginning, which is nobody's message, and is brought as
  an answer to nothing;
- a reply in private brings the code that stands first in the message of the bot's that it answers;
- what follows `/start` is the code of a case to go on with, `new`, or a secret that lets somebody do something;
- what a button carries back, in at most 64 bytes: `q:<case>:<turn>:<choice>`, in a group followed by whose button it is
  and in which thread it stands, in base 36: a press has to be judged before anything is looked up. A digest stands for
  a choice whose id is too long.
"""

import logging
import re
from base64 import urlsafe_b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from hashlib import blake2b
from typing import Any

from telegram import CallbackQuery, Chat, Message, Update, User
from telegram.constants import ChatType

from triagebot.channels.telegram.groups import Groups
from triagebot.channels.telegram.limits import MOST_BUTTON
from triagebot.delivery import place_of
from triagebot.messages import Arrived, Chose, Commanded, Edited, Incoming, InRoom, Pressed, Said, Sent
from triagebot.messages.message import Content

log = logging.getLogger(__name__)

NAME = "telegram"

#: An update as the platform writes it: a JSON object with an `update_id`.
Raw = dict[str, Any]

#: Commands of the menu that are called otherwise in the conversation.
CALLED: Mapping[str, str] = {"cancel": "stop"}
#: All of them, in the order of the menu.
COMMANDS = ("start", "help", "back", "case", "person", "language", "privacy", "export", "forget", "cancel")

#: A case's code as it stands in a link.
_CODE = re.compile(r"([0-9A-Z]{3})-?([0-9A-Z]{3})")
#: The same as the bot writes it.
_NAMED = re.compile(r"\b[0-9A-Z]{3}-[0-9A-Z]{3}\b")
_COMMAND = re.compile(r"/([A-Za-z0-9_]{1,32})(?:@([A-Za-z0-9_]+))?(?:\s+(.*))?", re.DOTALL)
#: What a message can be that is no text, as it is told to the delivery.
_SENT = (
    *("photo", "voice", "video", "video_note", "audio", "animation", "sticker", "document", "location", "venue"),
    *("contact", "poll", "dice", "story"),
)


@dataclass(frozen=True, slots=True)
class Press:
    """A press to be answered at once. `notice` is the text that flashes up (its id; "" for none)."""

    id: str
    language: str
    notice: str = ""


@dataclass(frozen=True, slots=True)
class Read:
    """All that an update asks for. `moved`: a group's old and new number."""

    incoming: Incoming | None = None
    press: Press | None = None
    moved: tuple[int, int] | None = None


@dataclass(slots=True)
class Reader:
    """`languages` are those that the bot speaks; `choices` those that buttons carry as digests."""

    bot: int
    username: str
    language: str
    languages: tuple[str, ...]
    choices: Mapping[str, str] = field(default_factory=dict)
    groups: Groups = field(default_factory=Groups)

    def read(self, update: Update) -> Read:
        if update.callback_query is not None:
            return self._pressed(update.callback_query)
        if update.edited_message is not None:
            return self._edited(update.edited_message, update.update_id)
        if update.message is not None:
            return self._written(update.message)
        return Read()

    def safely(self, update: Raw) -> Read:
        """An update that we fail on would come again for ever, and hold up all that come after it."""
        try:
            return self.read(Update.de_json(update))
        except Exception as error:
            log.error(
                "telegram: update %d cannot be read, and is passed over: %s", update["update_id"], place_of(error)
            )
            return Read()

    # --- who and where ----------------------------------------------------------------------------------------------

    def spoken(self, who: User) -> str:
        """The language of somebody's phone, if the bot speaks it; else its own."""
        asked = (who.language_code or "").replace("_", "-").lower()
        known = {code.lower(): code for code in self.languages}
        return known.get(asked) or known.get(asked.split("-")[0]) or self.language

    def _conversation(self, chat: int, thread: int, person: int) -> str:
        return str(person) if chat == person else f"{self.groups.first(chat)}/{thread}/{person}"

    def _key(self, message: Message) -> str:
        """Every bot counts messages by itself, and a shop may change its bot."""
        return f"{self.bot}:{message.chat.id}:{message.message_id}"

    def _incoming(self, message: Message, who: User, content: Content, key: str = "") -> Incoming:
        chat, thread = message.chat, _thread(message)
        address: dict[str, Any] = {"chat": chat.id}
        if not _is_private(chat):
            address |= {"thread": thread, "person": who.id, "reply": message.message_id}
        return Incoming(
            channel=NAME,
            key=key or self._key(message),
            conversation=self._conversation(chat.id, thread, who.id),
            address=address,
            content=content,
            at=message.date.astimezone(UTC),  # the library takes an update without a date
            language=self.spoken(who),
            private=_is_private(chat),
            forwarded=message.forward_origin is not None,
            about=self._code(message.reply_to_message) if _is_private(chat) else "",
        )

    # --- what is said -----------------------------------------------------------------------------------------------

    def _written(self, message: Message) -> Read:
        chat, who = message.chat, message.from_user
        if message.migrate_to_chat_id is not None:
            return Read(moved=(chat.id, message.migrate_to_chat_id))
        if message.migrate_from_chat_id is not None:
            return Read(moved=(message.migrate_from_chat_id, chat.id))
        if who is None or who.is_bot or chat.type == ChatType.CHANNEL:
            return Read()
        if chat.id < 0 and self.groups.is_room(chat.id):
            said = Said(message.text) if message.text is not None else _thing(self.bot, message, message.caption)
            return Read(self._in_the_room(message, who, said) if said is not None else None)
        text = self._addressed(message)
        if text is None:
            return Read()
        if message.text is None:
            thing = _thing(self.bot, message, text)
            return Read(self._incoming(message, who, thing) if thing is not None else None)
        command = _COMMAND.fullmatch(text)
        if command is not None and (command[2] or self.username).lower() == self.username.lower():
            content = self._commanded(command[1].lower(), (command[3] or "").strip(), text)
            return Read(self._incoming(message, who, content))
        return Read(self._incoming(message, who, Said(text)))

    def _addressed(self, message: Message) -> str | None:
        """What is said to the bot, without its name; None if nothing is."""
        text = message.text if message.text is not None else message.caption or ""
        if _is_private(message.chat):
            return text
        named = re.compile(rf"(?<!\w)@{re.escape(self.username)}(?!\w)[,:]?", re.IGNORECASE)
        command = _COMMAND.fullmatch(text)
        if command is not None:
            for_us = command[2] is None or command[2].lower() == self.username.lower()
            return text if for_us and (command[2] or command[1].lower() in COMMANDS) else None
        if not (self._is_ours(message.reply_to_message) or named.search(text)):
            return None
        return " ".join(named.sub("", text).split(" ")).strip()

    def _is_ours(self, message: Message | None) -> bool:
        """Whether the bot wrote a message."""
        return message is not None and message.from_user is not None and message.from_user.id == self.bot

    def _commanded(self, command: str, rest: str, text: str) -> Content:
        if command == "start":
            code = _CODE.fullmatch(rest.upper())
            named = f"{code[1]}-{code[2]}" if code else ""
            return Arrived(rest == "new", named, "" if named or rest == "new" else rest)
        if command == "language" and rest in self.languages:
            return Chose(rest)
        return Commanded(CALLED.get(command, command)) if command in COMMANDS else Said(text)

    def _edited(self, message: Message, number: int) -> Read:
        who, text = message.from_user, message.text or message.caption
        if who is None or who.is_bot or not text:
            return Read()
        key = f"{self.bot}:update:{number}"
        if self.groups.is_room(message.chat.id):
            return Read(self._in_the_room(message, who, Edited(text, of=self._key(message)), key))
        addressed = self._addressed(message)
        if addressed is None or _COMMAND.fullmatch(addressed):
            return Read()
        return Read(self._incoming(message, who, Edited(addressed, of=self._key(message)), key))

    # --- what the staff say in their room -----------------------------------------------------------------------------

    def _in_the_room(self, message: Message, who: User, content: Content, key: str = "") -> Incoming | None:
        """An explicit reply to a message of the bot's, or something else that is written in a topic; None for the
        rest."""
        replied, thread = message.reply_to_message, _thread(message)
        place = f"{self.groups.first(message.chat.id)}/{thread}" if thread else ""
        if message.sender_chat:
            return None
        if replied is None or not self._is_ours(replied) or replied.forum_topic_created:
            aside = replied is not None and not replied.forum_topic_created
            if not place or aside or isinstance(content, Edited):
                return None
            room = InRoom(str(who.id), place, answers=False)
        else:
            room = InRoom(str(who.id), place, self._code(replied))
        return replace(self._incoming(message, who, content, key), room=room)

    def _code(self, message: Message | None) -> str:
        """The code that stands first in a message of the bot's; "" where none does."""
        if message is None or not self._is_ours(message):
            return ""
        return code_of(message.text or message.caption or "")

    # --- what is pressed --------------------------------------------------------------------------------------------

    def _pressed(self, query: CallbackQuery) -> Read:
        person, language = query.from_user.id, self.spoken(query.from_user)
        button, message = unpack(query.data or "", self.choices), query.message
        if button is None or message is None:
            return Read(press=Press(query.id, language))
        chat, private = message.chat.id, _is_private(message.chat)
        if button.owner not in (0, person) or not (button.owner or private):
            return Read(press=Press(query.id, language, "telegram-not-yours"))
        conversation = self._conversation(chat, button.thread, person)
        address: dict[str, Any] = {"chat": chat}
        if button.owner:
            address |= {"thread": button.thread, "person": person, "reply": message.message_id}
        content = Pressed(button.case, button.turn, button.word)
        key = f"{self.bot}:press:{query.id}"
        incoming = Incoming(NAME, key, conversation, address, content, datetime.now(UTC), language, private)
        return Read(incoming, press=Press(query.id, language))


def code_of(text: str) -> str:
    """The code that stands first in a message of ours; "" where none does."""
    named = _NAMED.search(text.partition("\n")[0])
    return named[0] if named else ""


def _is_private(chat: Chat) -> bool:
    return chat.type == ChatType.PRIVATE


def _thread(message: Message) -> int:
    """The topic of a group in which a message stands; replies to a message make no topic."""
    return message.message_thread_id or 0 if message.is_topic_message else 0


def _thing(bot: int, message: Message, note: str | None) -> Sent | None:
    """What was sent that is no text; None where somebody came or went, or a title changed: nothing that asks for an
    answer."""
    what = next((name for name in _SENT if getattr(message, name)), None)
    if what is None:
        return None
    files: tuple[Mapping[str, Any], ...] = ()
    document = message.document
    if what == "photo":
        files = ({"file": message.photo[-1].file_id},)
    elif what == "document" and document is not None and (document.mime_type or "").startswith("image/"):
        what, files = "photo", ({"file": document.file_id},)  # a photo that was sent uncompressed
    album = f"{bot}:{message.media_group_id}" if message.media_group_id else ""
    return Sent(what, files, note or "", album)


# --- what a button carries ----------------------------------------------------------------------------------------

_DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class Button:
    """`word` is a choice's id; `owner` and `thread` are 0 in a private chat."""

    word: str
    case: str
    turn: int
    owner: int = 0
    thread: int = 0


def pack(button: Button) -> str:
    """Raises ValueError for what does not fit even with its choice as a digest."""
    data = _written(button, button.word)
    if len(data.encode()) > MOST_BUTTON:
        data = _written(button, _digest(button.word))
    if len(data.encode()) > MOST_BUTTON:
        raise ValueError(f"a button for case {button.case} at turn {button.turn} is longer than {MOST_BUTTON} bytes")
    return data


def unpack(data: str, choices: Mapping[str, str]) -> Button | None:
    """What was packed; None for anything else. `choices` are those that may stand as digests (see `digests`)."""
    kind, *parts = data.split(":")
    try:
        if kind == "q" and len(parts) in (3, 5):
            case, turn, word, *where = parts
            owner, thread = (int(part, 36) for part in where) if where else (0, 0)
            return Button(choices.get(word, word), case, int(turn), owner, thread)
    except ValueError:
        return None
    return None


def digests(choices: Iterable[str]) -> Mapping[str, str]:
    """Every choice by what stands for it when its id is too long."""
    return {_digest(choice): choice for choice in choices}


def _digest(word: str) -> str:
    return "~" + urlsafe_b64encode(blake2b(word.encode(), digest_size=6).digest()).decode()


def _written(button: Button, word: str) -> str:
    where = f":{_base36(button.owner)}:{_base36(button.thread)}" if button.owner else ""
    return f"q:{button.case}:{button.turn}:{word}{where}"


def _base36(number: int) -> str:
    digits = ""
    while number:
        number, digit = divmod(number, 36)
        digits = _DIGITS[digit] + digits
    return digits or "0"
