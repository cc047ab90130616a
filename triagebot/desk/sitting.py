"""People who talk one message at a time and wait for the answer: in the terminal, over JSON lines.

Rules of this file: a reply is handed out only after its events are committed; a message whose key was seen before
changes nothing and gets the standing reply again; when another process was faster, the turn is taken again on what
that process wrote.

Nothing is put into inbox or outbox: who gets no answer, since we died on the way, asks again under the same key.
Turns are those of the desk (`Clerk`), which may be at work in another process on the same data.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING

from triagebot.conversation import Case, Fact, Guide, Message, Reply, look
from triagebot.desk.clerk import Clerk
from triagebot.desk.codes import new_code
from triagebot.desk.held import Memory
from triagebot.desk.incoming import Arrived
from triagebot.store import StoreConflict

if TYPE_CHECKING:
    from triagebot.store import Store, Transaction

#: How often a turn is taken again when another process wrote to the same case meanwhile.
_TRIES = 5


@dataclass(frozen=True, slots=True)
class Heard:
    """What came of a message: the case, the reply, what was understood; `repeated` when its key was seen before."""

    case: Case
    reply: Reply
    understood: tuple[Fact, ...] = ()
    repeated: bool = False


@dataclass(frozen=True, eq=False)
class Sitting:
    """People talking through one store. `clock` gives aware times; `fresh` makes case codes."""

    guide: Guide
    store: "Store"
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    fresh: Callable[[], str] = new_code
    memory: Memory = field(default_factory=Memory)

    @cached_property
    def _clerk(self) -> Clerk:
        return Clerk(self.guide, self.clock, self.fresh, self.memory)

    def arrive(self, person: str, language: str, *, new: bool = False) -> Heard:
        """Somebody comes in: greeted with a new case, or shown where their unfinished one stands (unless `new`)."""
        return self._retrying(lambda tx: self._take(tx, person, Arrived(new), language, None))

    def hear(self, person: str, message: Message, language: str, key: str | None = None) -> Heard:
        """Somebody says something; a person without a case gets one. `key` tells a message that comes twice."""
        return self._retrying(lambda tx: self._take(tx, person, message, language, key))

    def _retrying(self, work: "Callable[[Transaction], Heard]") -> Heard:
        for attempt in range(_TRIES):
            try:
                with self.store.begin() as tx:
                    return work(tx)
            except StoreConflict:
                if attempt == _TRIES - 1:
                    raise
        raise AssertionError("unreachable")

    def _take(
        self, tx: "Transaction", person: str, content: Arrived | Message, language: str, key: str | None
    ) -> Heard:
        mark = tx.mark(person)
        if key is not None:
            held = self.memory.current(tx, mark)
            if held is not None and key in held.messages:
                return Heard(held.case, look(self.guide, held.case, self.clock()), repeated=True)
        taken = self._clerk.take(tx, mark, person, content, language, key)
        assert taken.case is not None, "only a message that was set aside has no case"
        assert taken.reply is not None, "only a press that came twice gets no reply"
        return Heard(taken.case, taken.reply, taken.understood)
