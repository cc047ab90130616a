"""Scripted people and what they see, over a `Line` to the platform: the same script in this process and over HTTP."""

import asyncio
import base64
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import count
from typing import Any, Protocol

from tests.doubles.telegram.faults import Fault, Faults
from tests.doubles.telegram.platform import Entry
from tests.doubles.telegram.world import Limits

#: Seconds between looks at a screen, and after which somebody who waits in vain gives up: it bounds a failing test.
_LOOKS_EVERY, PATIENCE = 0.01, 60.0
_ALBUMS = count(1)


class Line(Protocol):
    """Does one act and gives its result; raises `NotPossible` for what a phone would not do."""

    def do(self, act: str, **named: Any) -> Any: ...

    def close(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Button:
    text: str
    data: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """A message as the phone shows it now; `text` is the caption where there is a picture.

    `person` is who wrote it, 0 for a bot. `kind` is "text", "photo", "voice", …, or "service"; what has the
    same `album` is shown as one.
    """

    id: int
    by: str
    person: int
    kind: str
    text: str
    entities: tuple[dict[str, Any], ...]
    rows: tuple[tuple[Button, ...], ...]
    picture: str
    album: str
    edited: bool
    thread: int
    reply_to: int

    @property
    def buttons(self) -> tuple[Button, ...]:
        return tuple(button for row in self.rows for button in row)


@dataclass(frozen=True, slots=True)
class Notice:
    """What flashed up when a press was answered."""

    message: int
    person: int
    text: str
    alert: bool


@dataclass(frozen=True, slots=True)
class Screen:
    """A whole chat as it stands, the oldest message first. `unanswered` presses still show a spinning wheel."""

    title: str
    messages: tuple[Shown, ...]
    notices: tuple[Notice, ...]
    unanswered: int

    @property
    def last(self) -> Shown:
        return self.messages[-1]

    @property
    def from_bots(self) -> tuple[Shown, ...]:
        return tuple(message for message in self.messages if not message.person)

    def drawn(self) -> str:
        """The chat as plain text: who, what, and the buttons below it row by row."""
        lines = [self.title, ""]
        for message in self.messages:
            lines.append(f"{message.by}{' (edited)' if message.edited else ''}:")
            if message.kind != "text":
                lines.append(f"    <{message.kind}{f' {message.picture}' if message.picture else ''}>")
            lines += [f"    {line}".rstrip() for line in message.text.split("\n")] if message.text else []
            lines += ["    " + " ".join(f"[ {button.text} ]" for button in row) for row in message.rows]
            lines.append("")
        return "\n".join(lines)


def _screen(given: dict[str, Any]) -> Screen:
    messages = []
    for each in given["messages"]:
        rows = tuple(
            tuple(Button(one["text"], one.get("callback_data", ""), one.get("url", "")) for one in row)
            for row in each["rows"]
        )
        messages.append(Shown(**each | {"rows": rows, "entities": tuple(each["entities"])}))
    notices = tuple(Notice(**each) for each in given["notices"])
    return Screen(given["title"], tuple(messages), notices, given["unanswered"])


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody with a phone. Without `chat` (a group's number) everything happens in the private chat with the bot.

    `bot` is the token of the bot that is meant; without one, the first bot.
    """

    line: Line
    id: int
    name: str
    bot: str = ""

    def start(self, payload: str = "", **where: Any) -> int:
        """Presses Start, as from a link with that payload."""
        return self.write(f"/start {payload}".strip(), **where)

    def write(self, text: str, **where: Any) -> int:
        """Sends a text, `chat`, `thread`, `reply_to` and `bot` saying where; the message's number."""
        return int(self._do("write", text=text, **where))

    def press(self, button: str, **where: Any) -> str:
        """Presses a button by its label or data, under `message` or the last message that has it; the query's id.

        `stale=True` is a phone that still shows the buttons from before an edit.
        """
        return str(self._do("press", button=button, **where))

    def edit(self, message: int, text: str, **where: Any) -> int:
        return int(self._do("edit", message=message, text=text, **where))

    def send(self, kind: str, *, data: bytes = b"", **where: Any) -> int:
        """Sends a "photo", "voice", "sticker", "document", "location" or "contact", with a `caption` if wanted."""
        encoded = {"data": base64.b64encode(data).decode()} if data else {}
        return int(self._do("send", kind=kind, **encoded, **where))

    def send_album(self, photos: int, *, caption: str = "", **where: Any) -> tuple[int, ...]:
        """Sends photos that belong together; the first carries the caption."""
        group = f"{self.id}{next(_ALBUMS):06}"
        captions = [caption, *[""] * (photos - 1)]
        return tuple(self.send("photo", group=group, caption=each, **where) for each in captions)

    def block(self, **which: Any) -> None:
        self._do("block", **which)

    def unblock(self, **which: Any) -> None:
        self._do("unblock", **which)

    def menu(self, **where: Any) -> dict[str, str]:
        """The commands that are offered, with what they are said to do."""
        return {each["command"]: each["description"] for each in self._do("menu", **where)}

    def screen(self, **where: Any) -> Screen:
        """The private chat with the bot, or that of a group, as it stands now."""
        return _screen(self._do("screen", **where))

    def _do(self, act: str, **named: Any) -> Any:
        return self.line.do(act, **{"person": self.id, "bot": self.bot} | named)

    def wait_for(self, seen: Callable[[Screen], bool], *, within: float = PATIENCE, **where: Any) -> Screen:
        """The screen once `seen` is true of it. Raises AssertionError with the screen after `within` seconds."""
        until = time.monotonic() + within
        while not seen(screen := self.screen(**where)):
            if time.monotonic() > until:
                raise AssertionError(f"not seen within {within} s:\n{screen.drawn()}")
            time.sleep(_LOOKS_EVERY)
        return screen

    async def watch(self, seen: Callable[[Screen], bool], *, within: float = PATIENCE, **where: Any) -> Screen:
        """As `wait_for`, without holding up the event loop."""
        until = time.monotonic() + within
        while not seen(screen := self.screen(**where)):
            if time.monotonic() > until:
                raise AssertionError(f"not seen within {within} s:\n{screen.drawn()}")
            await asyncio.sleep(_LOOKS_EVERY)
        return screen


class Telegram:
    """The server as a test sees it: where bots find it, who is there, and which faults there are."""

    def __init__(self, line: Line, port: int) -> None:
        self.line = line
        self.port = port
        #: For `ApplicationBuilder().base_url(…).base_file_url(…)`.
        self.base_url = f"http://127.0.0.1:{port}/bot"
        self.base_file_url = f"http://127.0.0.1:{port}/file/bot"

    def close(self) -> None:
        """Hangs up; a server elsewhere goes on."""
        self.line.close()

    def add_bot(self, token: str, username: str) -> int:
        """The bot's user id, which is the number before the colon of its token."""
        return int(self.line.do("add_bot", token=token, username=username))

    def add_person(
        self, name: str, *, username: str = "", language: str = "", number: int = 0, bot: str = ""
    ) -> Person:
        """Somebody new; `number` is their user id if it matters, `bot` the one they talk to if it is not the first."""
        facts = {"name": name, "username": username, "language": language, "number": number}
        return Person(self.line, int(self.line.do("add_person", **facts)), name, bot)

    def add_group(
        self,
        by: Person,
        title: str,
        *,
        kind: str = "supergroup",
        topics: Iterable[str] = (),
        people: Iterable[Person] = (),
        bots: Iterable[str] = ("",),
    ) -> int:
        """A group that `by` makes; topics are numbered from 1 in order. The first bot is in it by default."""
        members = [person.id for person in people]
        facts: dict[str, Any] = {"title": title, "kind": kind, "topics": list(topics)}
        return int(self.line.do("add_group", by=by.id, people=members, bots=list(bots), **facts))

    def invite(self, by: Person, group: int, bot: str = "") -> None:
        self.line.do("invite", by=by.id, group=group, bot=bot)

    def leave(self, by: Person, group: int) -> None:
        self.line.do("leave", by=by.id, group=group)

    def throw_out(self, by: Person, group: int, bot: str = "") -> None:
        self.line.do("throw_out", by=by.id, group=group, bot=bot)

    def migrate(self, by: Person, group: int) -> int:
        """Makes a basic group a supergroup; its new number."""
        return int(self.line.do("migrate", by=by.id, group=group))

    def delete_account(self, person: Person) -> None:
        self.line.do("delete_account", person=person.id)

    def close_topic(self, group: int, thread: int, *, closed: bool = True) -> None:
        self.line.do("close_topic", group=group, thread=thread, closed=closed)

    def delete_topic(self, group: int, thread: int) -> None:
        self.line.do("delete_topic", group=group, thread=thread)

    def make_forum(self, group: int, topic: str) -> None:
        """Topics are switched on in a group, with one that is there from then on."""
        self.line.do("make_forum", group=group, topic=topic)

    def let_make_topics(self, group: int, bot: str = "") -> None:
        """The bot may make topics in that group from now on."""
        self.line.do("let_make_topics", group=group, bot=bot)

    def screen(self, group: int) -> Screen:
        return _screen(self.line.do("screen", chat=group))

    def description(self, language: str = "", bot: str = "") -> dict[str, str]:
        """`description` and `short_description`, as somebody with that language sees them."""
        return dict(self.line.do("description", language=language, bot=bot))

    def set_faults(self, faults: Faults) -> None:
        self.line.do("set_faults", **faults.json())

    def set_limits(self, limits: Limits) -> None:
        self.line.do("set_limits", **{name: getattr(limits, name) for name in Limits.__slots__})

    def inject(self, method: str, fault: Fault, times: int = 1) -> None:
        """The next requests for that method meet that fault, whatever the chances."""
        self.line.do("inject", method=method, fault=fault, times=times)

    def outage(self, seconds: float) -> None:
        """Every connection is cut and no webhook called for that long on the platform's clock; 0 ends it."""
        self.line.do("outage", seconds=seconds)

    def skip(self, seconds: float) -> None:
        """Puts the platform's clock forward."""
        self.line.do("skip", seconds=seconds)

    def tune(
        self,
        *,
        press_answered_within: float | None = None,
        webhook_pace: float | None = None,
        away: float | None = None,
    ) -> None:
        """How old a press may be when it is answered, in seconds; what the webhook's waits are multiplied by; how many
        seconds requests and answers are on their way."""
        self.line.do("tune", press_answered_within=press_answered_within, webhook_pace=webhook_pace, away=away)

    def log(self, after: int = 0) -> list[Entry]:
        """The requests of bots after the one of that number; getUpdates only where it met a fault."""
        return [Entry(*row) for row in self.line.do("log", after=after)]

    def holding(self, bot: str = "") -> bool:
        """Whether a request of the bot's for updates is open, with nothing yet to answer it with."""
        return bool(self.line.do("holding", bot=bot))

    def pending(self, bot: str = "") -> int:
        """How many updates the bot has not confirmed yet, those under way included."""
        return int(self.line.do("pending", bot=bot))
