"""What an update of the platform says, in the delivery's words. Pure: nothing is looked up or sent here.

Updates are read as the platform writes them (https://core.telegram.org/bots/api#update): to make the library's objects
of one takes 0.2 ms, and a dozen of its fields are of interest.

Decided here and nowhere else:
- in a group only what is addressed to the bot counts: a command, its name in the text, an answer to one of its
  messages; a case belongs to one person in one thread of one group;
- a group that became a larger one keeps its first number as the name of its conversations;
- the buttons of a message belong to the person whose question it shows;
- several photos sent as one album are one message;
- in the staff's room only an explicit answer to a message of the bot's counts, with the code that stands first in that
  message; what is written in a topic answers the topic's own beginning, which is no message of anybody's;
- what follows `/start` is the code of a case to go on with, `new`, or a secret that lets somebody do something.
"""

import logging
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from triagebot.channels.telegram.buttons import unpack
from triagebot.delivery import place_of
from triagebot.messages import Arrived, Chose, Commanded, Edited, Incoming, InRoom, Pressed, Said, Sent
from triagebot.messages.incoming import Content

log = logging.getLogger(__name__)

NAME = "telegram"

#: A JSON object of the platform's.
Written = Mapping[str, Any]

#: Commands of the menu that are called otherwise in the conversation.
CALLED: Mapping[str, str] = {"cancel": "stop"}
#: All of them, in the order of the menu.
COMMANDS = ("start", "help", "back", "case", "person", "language", "privacy", "forget", "cancel")

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
    """`languages` are those that the bot speaks; `choices` those that buttons carry as digests; `first` gives a group's
    first number by its present one; `room` is the number of the staff's, 0 for none."""

    bot: int
    username: str
    language: str
    languages: tuple[str, ...]
    choices: Mapping[str, str] = field(default_factory=dict)
    first: dict[int, int] = field(default_factory=dict)
    room: int = 0

    def read(self, update: Written) -> Read:
        if "callback_query" in update:
            return self._pressed(update["callback_query"])
        if "edited_message" in update:
            return self._edited(update["edited_message"], update["update_id"])
        if "message" in update:
            return self._written(update["message"])
        return Read()

    def read_all(self, updates: Sequence[Written]) -> list[Read]:
        """What comes in one go, in its order."""
        found = []
        for update in updates:
            read = self._safely(update)
            if read.moved is not None:
                self.move(*read.moved)
            found.append(read)
        return found

    def _safely(self, update: Written) -> Read:
        """One that we fail on would come again for ever, and hold up all that come after it."""
        try:
            return self.read(update)
        except Exception as error:
            log.error(
                "telegram: update %d cannot be read, and is passed over: %s", update["update_id"], place_of(error)
            )
            return Read()

    def move(self, old: int, new: int) -> None:
        """A group has another number; its conversations keep their names."""
        self.first.setdefault(new, self.first.get(old, old))

    # --- who and where ----------------------------------------------------------------------------------------------

    def spoken(self, who: Written) -> str:
        """The language of somebody's phone, if the bot speaks it; else its own."""
        asked = (who.get("language_code") or "").replace("_", "-").lower()
        known = {code.lower(): code for code in self.languages}
        return known.get(asked) or known.get(asked.split("-")[0]) or self.language

    def _conversation(self, chat: int, thread: int, person: int) -> str:
        return str(person) if chat == person else f"{self.first.get(chat, chat)}/{thread}/{person}"

    def _address(self, message: Written, person: int) -> dict[str, Any]:
        chat = message["chat"]["id"]
        if _is_private(message):
            return {"chat": chat}
        return {"chat": chat, "thread": _thread(message), "person": person, "reply": message["message_id"]}

    def _key(self, message: Written) -> str:
        """Every bot counts messages by itself, and a shop may change its bot."""
        return f"{self.bot}:{message['chat']['id']}:{message['message_id']}"

    def _incoming(self, message: Written, who: Written, content: Any, key: str = "") -> Incoming:
        return Incoming(
            channel=NAME,
            key=key or self._key(message),
            conversation=self._conversation(message["chat"]["id"], _thread(message), who["id"]),
            address=self._address(message, who["id"]),
            content=content,
            at=datetime.fromtimestamp(message["date"], UTC),
            language=self.spoken(who),
            private=_is_private(message),
            forwarded="forward_origin" in message,
        )

    # --- what is said -----------------------------------------------------------------------------------------------

    def _written(self, message: Written) -> Read:
        chat = message["chat"]
        if "migrate_to_chat_id" in message:
            return Read(moved=(chat["id"], message["migrate_to_chat_id"]))
        if "migrate_from_chat_id" in message:
            return Read(moved=(message["migrate_from_chat_id"], chat["id"]))
        who = message.get("from")
        if who is None or who["is_bot"] or chat["type"] == "channel":
            return Read()
        if self._is_room(chat["id"]):
            content = Said(message["text"]) if "text" in message else self._thing(message, message.get("caption", ""))
            return Read(self._in_the_room(message, who, content) if content is not None else None)
        text = self._addressed(message)
        if text is None:
            return Read()
        if "text" not in message:
            return self._sent(message, who, text)
        command = _COMMAND.fullmatch(text)
        if command is not None and (command[2] or self.username).lower() == self.username.lower():
            return self._commanded(message, who, command[1].lower(), (command[3] or "").strip(), text)
        return Read(self._incoming(message, who, Said(text)))

    def _addressed(self, message: Written) -> str | None:
        """What is said to the bot, without its name; None if nothing is."""
        text: str = message["text"] if "text" in message else message.get("caption", "")
        if _is_private(message):
            return text
        named = re.compile(rf"(?<!\w)@{re.escape(self.username)}(?!\w)[,:]?", re.IGNORECASE)
        command = _COMMAND.fullmatch(text)
        if command is not None:
            for_us = command[2] is None or command[2].lower() == self.username.lower()
            return text if for_us and (command[2] or command[1].lower() in COMMANDS) else None
        replied = message.get("reply_to_message", {}).get("from")
        answers = replied is not None and replied["id"] == self.bot
        if not (answers or named.search(text)):
            return None
        return " ".join(named.sub("", text).split(" ")).strip()

    def _commanded(self, message: Written, who: Written, command: str, rest: str, text: str) -> Read:
        if command == "start":
            code = _CODE.fullmatch(rest.upper())
            named = f"{code[1]}-{code[2]}" if code else ""
            secret = "" if named or rest == "new" else rest
            return Read(self._incoming(message, who, Arrived(rest == "new", named, secret)))
        if command == "language" and rest in self.languages:
            return Read(self._incoming(message, who, Chose(rest)))
        known = command in COMMANDS
        return Read(self._incoming(message, who, Commanded(CALLED.get(command, command)) if known else Said(text[1:])))

    def _sent(self, message: Written, who: Written, note: str) -> Read:
        thing = self._thing(message, note)
        return Read(self._incoming(message, who, thing) if thing is not None else None)

    def _thing(self, message: Written, note: str) -> Sent | None:
        """What is no text; None where somebody came or went, or a title changed: nothing that asks for an answer."""
        what = next((name for name in _SENT if message.get(name)), None)
        if what is None:
            return None
        files: tuple[Mapping[str, Any], ...] = ()
        if what == "photo":
            files = ({"file": message["photo"][-1]["file_id"]},)
        elif what == "document" and _is_image(message["document"].get("mime_type")):
            what, files = "photo", ({"file": message["document"]["file_id"]},)
        album = f"{self.bot}:{message['media_group_id']}" if message.get("media_group_id") else ""
        return Sent(what, files, note, album)

    def _edited(self, message: Written, number: int) -> Read:
        who = message.get("from")
        if who is None or who["is_bot"] or not (message.get("text") or message.get("caption")):
            return Read()
        key = f"{self.bot}:update:{number}"
        if self._is_room(message["chat"]["id"]):
            edited = Edited(message.get("text") or message["caption"], of=self._key(message))
            return Read(self._in_the_room(message, who, edited, key))
        text = self._addressed(message)
        if text is None or _COMMAND.fullmatch(text):
            return Read()
        content = Edited(text, of=self._key(message))
        return Read(self._incoming(message, who, content, key))

    # --- what the staff say in their room -----------------------------------------------------------------------------

    def _is_room(self, chat: int) -> bool:
        return self.room != 0 and self.room in (chat, self.first.get(chat, chat))

    def _in_the_room(self, message: Written, who: Written, content: Content, key: str = "") -> Incoming | None:
        """An explicit answer to a message of the bot's; None for all else."""
        replied, thread = message.get("reply_to_message", {}), _thread(message)
        if (
            replied.get("from", {}).get("id") != self.bot
            or "forum_topic_created" in replied
            or "sender_chat" in message
        ):
            return None
        first = str(replied.get("text") or replied.get("caption") or "").partition("\n")[0]
        named = _NAMED.search(first)
        room = InRoom(str(who["id"]), f"{message['chat']['id']}/{thread}" if thread else "", named[0] if named else "")
        return replace(self._incoming(message, who, content), room=room, key=key or self._key(message))

    # --- what is pressed --------------------------------------------------------------------------------------------

    def _pressed(self, query: Written) -> Read:
        language, number = self.spoken(query["from"]), query["id"]
        button = unpack(query.get("data", ""), self.choices)
        message = query.get("message")
        if button is None or message is None:
            return Read(press=Press(number, language))
        chat, person, private = message["chat"]["id"], query["from"]["id"], _is_private(message)
        if button.owner not in (0, person) or not (button.owner or private):
            return Read(press=Press(number, language, "telegram-not-yours"))
        conversation = self._conversation(chat, button.thread, person)
        address: dict[str, Any] = {"chat": chat}
        if button.owner:
            address |= {"thread": button.thread, "person": person, "reply": message["message_id"]}
        content = Pressed(button.case, button.turn, button.word)
        key = f"{self.bot}:press:{number}"
        incoming = Incoming(NAME, key, conversation, address, content, datetime.now(UTC), language, private)
        return Read(incoming, press=Press(number, language))


def _is_image(kind: str | None) -> bool:
    """Whether a file is a photo that was sent whole."""
    return (kind or "").startswith("image/")


def _is_private(message: Written) -> bool:
    return bool(message["chat"]["type"] == "private")


def _thread(message: Written) -> int:
    """The topic of a group in which a message stands; answers to a message make no topic."""
    return int(message.get("message_thread_id", 0)) if message.get("is_topic_message") else 0
