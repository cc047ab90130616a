"""A shop whose staff have a room of their own: what is laid out there, and what they say to it."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from tests.counter.shop import Shop
from tests.delivery.recorded import RecordedChannel
from tests.words import words_of
from triagebot.cases.loaded import unfolded
from triagebot.conversation import Guide
from triagebot.conversation.events import Event
from triagebot.delivery import Received
from triagebot.handover import StaffRoom
from triagebot.messages import Edited, InRoom, Outgoing, Receipt, Said
from triagebot.messages.message import Content

ROOM = "the room"


@dataclass
class RoomyChannel(RecordedChannel):
    """With a room in which each case has a thread of its own. `photos` are the numbers of those that went along."""

    threads: list[str] = field(default_factory=list)
    files: dict[str, bytes] = field(default_factory=dict)

    def _take(self, chat: str, message: Outgoing) -> Receipt:
        receipt = dict(super()._take(chat, message))
        if "opens" in message.address:
            self.threads.append(str(message.address["opens"]))
            thread = f"thread {len(self.threads)}"
            receipt |= {"address": {"chat": chat, "thread": thread}, "thread": f"{chat} {thread}"}
        return receipt

    async def fetch(self, place: Any, most: int) -> bytes:
        return self.files[place["file"]]


class Workshop(Shop):
    """Ada and Eve are staff; Bob has a wheel."""

    def __init__(self, folder: Path, guide: Guide | None = None, room: str = ROOM) -> None:
        self.roomy = RoomyChannel()
        super().__init__(folder, self.roomy, (StaffRoom(self.roomy.name, {"chat": room}),), guide)

    def room(self, chat: str = ROOM) -> list[str]:
        """What the bot has written in the room."""
        return [words_of(message.reply) for message in self.roomy.screens[chat]]

    def last(self, chat: str = ROOM) -> Outgoing:
        return self.roomy.screens[chat][-1]

    def says_in_room(
        self, who: str, content: Content | str, *, thread: int = 1, message: str = "m1", chat: str = ROOM, **more: Any
    ) -> Received:
        """An answer to a message of the bot's in a thread."""
        self.clock.wait(minutes=1)
        said = Said(content) if isinstance(content, str) else content
        incoming = replace(
            self.incoming(who, said, more.pop("key", None)),
            conversation="room/",
            address={"chat": chat, "thread": f"thread {thread}", "reply": message},
            private=False,
            room=more.pop("in_room", InRoom(who, f"{chat} thread {thread}")),
            **more,
        )
        return self.again(incoming)

    def edits_in_room(self, who: str, text: str, of: str) -> Received:
        return self.says_in_room(who, Edited(text, of))

    def told(self, who: str) -> list[str]:
        return [words_of(message.reply) for message in self.roomy.screens[who]]

    def events(self, code: str) -> tuple[Event, ...]:
        with self.reading() as view:
            stored = view.case_by_code(code)
            assert stored is not None
            return unfolded(stored).case.events

    def looks_around(self) -> None:
        """What the delivery does every few seconds; a while later."""
        self.clock.wait(minutes=2)
        self.run(self.delivery.look_around())
        self.run(self.delivery.idle())

    def reopened(self, room: str) -> None:
        """The next start, with another room set up."""
        self.rooms = (StaffRoom(self.roomy.name, {"chat": room}),)
        self.close()
        self.open()
        self.run(self.delivery.idle())


@contextmanager
def workshop(folder: Path, guide: Guide | None = None) -> Iterator[Workshop]:
    made = Workshop(folder, guide)
    made.clock.wait(days=2)  # to an hour at which the example shop is open
    made.staff("ada")
    try:
        yield made
    finally:
        made.end()
