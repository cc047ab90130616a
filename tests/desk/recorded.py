"""A channel that keeps in memory what went out, as a platform would show it, and fails when told to."""

import asyncio
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from triagebot.desk import Outgoing, Receipt

#: What happens to one attempt: an error that is raised, or something to be done before the message is taken.
Fate = Exception | Callable[[Outgoing], Any]


@dataclass
class RecordedChannel:
    """`screens` holds, for each address, the texts of the messages there in order; an edit marks the one it changes.

    `fates` are used up one an attempt, for the next messages to that address.
    """

    name: str = "recorded"
    edits: bool = True
    harmless: bool = True
    attempts: list[tuple[str, int]] = field(default_factory=list)
    screens: dict[str, list[Outgoing]] = field(default_factory=lambda: defaultdict(list))
    changed: dict[str, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))
    fates: dict[str, deque[Fate]] = field(default_factory=lambda: defaultdict(deque))

    async def deliver(self, message: Outgoing) -> Receipt:
        chat = message.address["chat"]
        self.attempts.append((chat, message.id))
        await asyncio.sleep(0)
        if self.fates[chat]:
            fate = self.fates[chat].popleft()
            if isinstance(fate, Exception):
                raise fate
            done = fate(message)
            if asyncio.iscoroutine(done):
                await done
        if message.kind == "edit":
            self.changed[chat].append((message.receipt["place"], message.answered))
            return message.receipt
        self.screens[chat].append(message)
        return {"place": len(self.screens[chat]) - 1}

    def harmless_to_repeat(self, kind: str) -> bool:
        return self.harmless

    def sent(self, chat: str) -> list[int]:
        """The numbers of the messages that somebody sees, in order."""
        return [message.id for message in self.screens[chat]]

    def last(self, chat: str) -> Outgoing:
        return self.screens[chat][-1]
