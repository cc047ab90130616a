"""A channel that keeps in memory what went out, as a platform would show it, and fails when told to."""

import asyncio
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.words import words_of
from triagebot.messages import Outgoing, Receipt


@dataclass(frozen=True)
class Before:
    """Happens to one attempt before the message is taken; may raise."""

    happens: Callable[[], object]


@dataclass(frozen=True)
class After:
    """Happens to one attempt once the message is taken; may raise."""

    happens: Callable[[], object]


@dataclass(frozen=True)
class Held:
    """The attempt takes until this happens."""

    until: asyncio.Event


@dataclass
class RecordedChannel:
    """`screens` holds, for each chat, the messages there in order; `changed` the places of those that were edited,
    with what was answered to them. `fates` are used up one an attempt, for the next messages to that chat."""

    name: str = "recorded"
    edits: bool = True
    harmless: bool = True
    screens: dict[str, list[Outgoing]] = field(default_factory=lambda: defaultdict(list))
    changed: dict[str, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))
    fates: dict[str, deque[Exception | Before | After | Held]] = field(default_factory=lambda: defaultdict(deque))

    async def deliver(self, message: Outgoing) -> Receipt:
        chat = message.address["chat"]
        fate = self.fates[chat].popleft() if self.fates[chat] else None
        await asyncio.sleep(0)
        match fate:
            case Exception():
                raise fate
            case Before():
                fate.happens()
            case Held():
                await fate.until.wait()
        receipt = self._take(chat, message)
        if isinstance(fate, After):
            fate.happens()
        return receipt

    def _take(self, chat: str, message: Outgoing) -> Receipt:
        if message.kind == "edit":
            self.changed[chat].append((message.receipt["place"], message.answered))
            return message.receipt
        self.screens[chat].append(message)
        return {"place": len(self.screens[chat]) - 1}

    def harmless_to_repeat(self, kind: str) -> bool:
        return self.harmless

    def last(self, chat: str) -> Outgoing:
        return self.screens[chat][-1]

    def texts(self, chat: str) -> list[str]:
        """What somebody reads, message by message, without what was sent once more."""
        once = {message.id: message for message in self.screens[chat]}
        return [words_of(message.reply) for message in once.values()]
