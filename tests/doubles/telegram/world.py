"""What the platform knows: its clock, its limits, bots, people, chats, messages and files, and their JSON.

No I/O; the caller holds the server's lock. Message numbers follow the platform: one count a bot over its private chats
and basic groups, one count of its own for every supergroup. Limits are the platform's public ones, as buckets that
refill: about one message a second in a chat, thirty a second by a bot, twenty a minute in a group; the platform
publishes no sizes of bursts, so those are settable like the rest.
"""

import asyncio
import math
import secrets
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Literal


class Clock:
    """Seconds since the epoch; goes on by itself, and further when it is told to."""

    def __init__(self) -> None:
        self._start, self._began = time.time(), time.monotonic()
        self._skipped = 0.0
        self._stopped = False
        self._listeners: list[Callable[[], None]] = []

    def now(self) -> float:
        return self._start + time.monotonic() - self._began + self._skipped

    def skip(self, seconds: float) -> None:
        """Puts the clock forward; the person who waits for a time looks again at once."""
        if seconds < 0:
            raise ValueError("the platform's clock does not go backwards")
        self._skipped += seconds
        for listener in list(self._listeners):
            listener()

    def stop(self) -> None:
        """Ends every sleep, for a server that stops."""
        self._stopped = True
        self.skip(0)

    def on_skip(self, listener: Callable[[], None]) -> None:
        self._listeners.append(listener)

    async def sleep(self, seconds: float) -> None:
        """Waits on this clock, so a test ends the wait by putting the clock forward."""
        loop, woken, until = asyncio.get_running_loop(), asyncio.Event(), self.now() + seconds

        def wake() -> None:
            with suppress(RuntimeError):  # the loop is closed: the server has ended
                loop.call_soon_threadsafe(woken.set)

        self.on_skip(wake)
        try:
            while not self._stopped and (left := until - self.now()) > 0:
                woken.clear()
                with suppress(TimeoutError):
                    await asyncio.wait_for(woken.wait(), left)
        finally:
            self._listeners.remove(wake)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Messages a second, and how many may come at once after a rest."""

    on: bool = False
    chat_rate: float = 1.0
    chat_burst: int = 3
    bot_rate: float = 30.0
    bot_burst: int = 30
    group_rate: float = 20 / 60
    group_burst: int = 20


@dataclass(slots=True)
class _Bucket:
    left: float
    at: float

    def wait(self, rate: float, burst: int, now: float) -> float:
        """Seconds until there is room for one more."""
        self.left = min(float(burst), self.left + (now - self.at) * rate)
        self.at = now
        return 0.0 if self.left >= 1 - 1e-9 else (1 - self.left) / rate


@dataclass
class Flood:
    limits: Limits = Limits()
    _buckets: dict[tuple[int, int, str], _Bucket] = field(default_factory=dict)

    def count(self, bot: int, chat: int, now: float, *, is_group: bool) -> int:
        """Takes one message's room; 0, or the whole seconds after which to try again, and then nothing was taken."""
        limits = self.limits
        if not limits.on:
            return 0
        wanted = [(0, limits.bot_rate, limits.bot_burst, "all"), (chat, limits.chat_rate, limits.chat_burst, "chat")]
        if is_group:
            wanted.append((chat, limits.group_rate, limits.group_burst, "group"))
        buckets = []
        longest = 0.0
        for where, rate, burst, name in wanted:
            bucket = self._buckets.setdefault((bot, where, name), _Bucket(burst, now))
            longest = max(longest, bucket.wait(rate, burst, now))
            buckets.append(bucket)
        if longest > 0:
            return max(1, math.ceil(longest))
        for bucket in buckets:
            bucket.left -= 1
        return 0


ChatKind = Literal["private", "group", "supergroup"]
#: Chat numbers of supergroups begin here and go down.
SUPERGROUPS = -1_000_000_000_000
Json = dict[str, Any]
Keyboard = list[list[Json]]


@dataclass(slots=True, eq=False)
class User:
    id: int
    first_name: str
    last_name: str = ""
    username: str = ""
    language: str = ""
    is_bot: bool = False
    #: The account was deleted.
    gone: bool = False

    @property
    def name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()

    def json(self) -> Json:
        optional = {"last_name": self.last_name, "username": self.username, "language_code": self.language}
        known = {key: value for key, value in optional.items() if value}
        return {"id": self.id, "is_bot": self.is_bot, "first_name": self.first_name} | known


@dataclass(slots=True, eq=False)
class Topic:
    title: str
    closed: bool = False


@dataclass(slots=True, eq=False)
class Message:
    """A message as it stands now; `content` holds the keys of its JSON that differ from kind to kind."""

    id: int
    chat: "Chat"
    sender: User
    date: float
    content: Json
    thread: int = 0
    keyboard: Keyboard = field(default_factory=list)
    #: The keyboards it had before, which a phone that has not caught up still shows.
    earlier: list[Keyboard] = field(default_factory=list)
    reply_to: "Message | None" = None
    edited: float = 0.0
    deleted: bool = False

    def json(self, *, reply: bool = True) -> Json:
        body: Json = {"message_id": self.id, "from": self.sender.json(), "chat": self.chat.json()}
        body |= {"date": int(self.date)} | self.content
        if self.edited:
            body["edit_date"] = int(self.edited)
        if self.thread:
            body |= {"message_thread_id": self.thread, "is_topic_message": True}
        if self.reply_to is not None and reply and not self.reply_to.deleted:
            body["reply_to_message"] = self.reply_to.json(reply=False)
        if self.keyboard:
            body["reply_markup"] = {"inline_keyboard": self.keyboard}
        return body

    def inaccessible(self) -> Json:
        return {"chat": self.chat.json(), "message_id": self.id, "date": 0}


@dataclass(slots=True, eq=False)
class Chat:
    id: int
    kind: ChatKind
    title: str = ""
    #: The person of a private chat; the phone's owner.
    person: User | None = None
    #: Ids of the people and bots in it; `kicked` holds bots that were thrown out.
    members: set[int] = field(default_factory=set)
    kicked: set[int] = field(default_factory=set)
    topics: dict[int, Topic] = field(default_factory=dict)
    #: Bots that may make and close topics.
    topic_makers: set[int] = field(default_factory=set)
    messages: dict[int, Message] = field(default_factory=dict)
    presses: "list[Press]" = field(default_factory=list)
    #: The supergroup that this basic group became.
    migrated_to: int = 0
    #: The person of a private chat has written to the bot, and has stopped it.
    started: bool = False
    blocked: bool = False
    numbered: int = 0

    def json(self) -> Json:
        if self.person is not None:
            return {key: value for key, value in self.person.json().items() if key in _OF_A_PERSON} | {
                "type": "private"
            }
        body: Json = {"id": self.id, "title": self.title, "type": self.kind}
        return body | ({"is_forum": True} if self.topics else {})


_OF_A_PERSON = ("id", "first_name", "last_name", "username")


@dataclass(slots=True, eq=False)
class File:
    id: str
    unique: str
    data: bytes
    path: str
    mime: str = ""
    width: int = 0
    height: int = 0

    def json(self) -> Json:
        return {"file_id": self.id, "file_unique_id": self.unique, "file_size": len(self.data)}


@dataclass(slots=True, eq=False)
class Press:
    """A button pressed by somebody; `notice` is what the phone showed when the bot answered."""

    id: str
    person: User
    message: Message
    data: str
    at: float
    answered: bool = False
    notice: str = ""
    alert: bool = False

    def json(self) -> Json:
        shown = self.message.inaccessible() if self.message.deleted else self.message.json()
        instance = f"{self.message.chat.id}{self.person.id}"
        return {
            "id": self.id,
            "from": self.person.json(),
            "message": shown,
            "chat_instance": instance,
            "data": self.data,
        }


@dataclass(slots=True, eq=False)
class Bot:
    token: str
    user: User
    private: dict[int, Chat] = field(default_factory=dict)
    files: dict[str, File] = field(default_factory=dict)
    presses: dict[str, Press] = field(default_factory=dict)
    #: (scope, language) -> commands; language -> text.
    commands: dict[tuple[str, str], list[Json]] = field(default_factory=dict)
    descriptions: dict[str, str] = field(default_factory=dict)
    short_descriptions: dict[str, str] = field(default_factory=dict)
    numbered: int = 0

    def file(self, name: str) -> File | None:
        """The file of an id; a smaller size of a picture has the picture's id and its own side, in pixels."""
        return self.files.get(name.partition(".")[0])


class World:
    """All of it. Numbers are given in order, so that the same acts give the same numbers."""

    def __init__(self) -> None:
        self.bots: dict[str, Bot] = {}
        self.users: dict[int, User] = {}
        self.groups: dict[int, Chat] = {}
        self._people = 1000
        self._groups = 0
        self._files = 0
        self._presses = 0

    def add_bot(self, token: str, username: str) -> Bot:
        number = int(token.partition(":")[0])
        bot = Bot(token, User(number, username, username=username, is_bot=True))
        self.bots[token] = bot
        self.users[number] = bot.user
        return bot

    def add_person(self, name: str, *, username: str = "", language: str = "", number: int = 0) -> User:
        self._people = max(self._people + 1, number)
        first, _, last = name.partition(" ")
        person = User(number or self._people, first, last, username, language)
        self.users[person.id] = person
        return person

    def private(self, bot: Bot, person: User) -> Chat:
        if person.id not in bot.private:
            bot.private[person.id] = Chat(person.id, "private", person=person, members={person.id, bot.user.id})
        return bot.private[person.id]

    def add_group(self, kind: ChatKind, title: str, *, topics: tuple[str, ...] = ()) -> Chat:
        self._groups += 1
        number = SUPERGROUPS - self._groups if kind == "supergroup" else -self._groups
        group = Chat(number, kind, title)
        for topic in topics:
            group.numbered += 1
            group.topics[group.numbered] = Topic(topic)
        self.groups[number] = group
        return group

    def add_file(self, bots: list[Bot], data: bytes, folder: str, ending: str, **facts: Any) -> File:
        """The file, known to these bots by its id; other bots do not know it."""
        self._files += 1
        name, path = f"AgACAgQ{self._files:08}-{folder}", f"{folder}/file_{self._files}.{ending}"
        file = File(name, f"AQAD{self._files:08}", data, path, **facts)
        for bot in bots:
            bot.files[name] = file
        return file

    def number_message(self, bot: Bot | None, chat: Chat) -> int:
        if chat.kind == "private" and bot is not None:
            bot.numbered += 1
            return bot.numbered
        chat.numbered += 1
        return chat.numbered

    def number_press(self) -> str:
        self._presses += 1
        return str(4_000_000_000_000 + self._presses)

    def bots_of(self, chat: Chat) -> list[Bot]:
        return [bot for bot in self.bots.values() if bot.user.id in chat.members]


def some_token() -> str:
    """A token in the platform's form that nobody has."""
    return f"{secrets.randbelow(10**9) + 10**9}:{secrets.token_urlsafe(26)[:35]}"
