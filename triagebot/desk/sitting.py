"""Takes one message of one person through a turn and onto the disk, in one transaction.

Rules of this file: a reply is handed out only after its events are committed; a message whose key was seen before
changes nothing and gets the standing reply again; when another process was faster, the turn is taken again on what
that process wrote.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from triagebot.conversation import Case, Fact, Guide, Message, Reply, Turn, fold, greet, look, open_case, turn
from triagebot.conversation.journal import from_json, to_json
from triagebot.desk.codes import new_code
from triagebot.errors import StoreError
from triagebot.store import StoreConflict

if TYPE_CHECKING:
    from triagebot.store import Store, StoredCase, Transaction

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

    def arrive(self, person: str, language: str, *, new: bool = False) -> Heard:
        """Somebody comes in: greeted with a new case, or shown where their unfinished one stands (unless `new`)."""
        return self._retrying(lambda tx: self._arrive(tx, person, language, new))

    def hear(self, person: str, message: Message, language: str, key: str | None = None) -> Heard:
        """Somebody says something; a person without a case gets one. `key` tells a message that comes twice."""
        return self._retrying(lambda tx: self._hear(tx, person, message, language, key))

    def _retrying(self, work: "Callable[[Transaction], Heard]") -> Heard:
        for attempt in range(_TRIES):
            try:
                with self.store.begin() as tx:
                    return work(tx)
            except StoreConflict:
                if attempt == _TRIES - 1:
                    raise
        raise AssertionError("unreachable")

    def _arrive(self, tx: "Transaction", person: str, language: str, new: bool) -> Heard:
        now = self.clock()
        stored = tx.current_case(person)
        if stored is not None and not new:
            case, _ = _load(stored)
            if case.now.outcome in (None, "stopped"):
                taken = turn(self.guide, case, Message(choice="resume"), now)
                self._keep(tx, stored.id, len(stored.events), taken, None)
                return Heard(taken.case, taken.reply)
        return self._welcome(tx, person, language, now)

    def _welcome(self, tx: "Transaction", person: str, language: str, now: datetime) -> Heard:
        case = open_case(self.guide, self.fresh(), language, now)
        number = tx.open_case(person, case.code, case.topic, now)
        greeted = greet(self.guide, case, now)
        tx.append(number, 0, [to_json(event) for event in greeted.case.events])
        return Heard(greeted.case, greeted.reply)

    def _hear(self, tx: "Transaction", person: str, message: Message, language: str, key: str | None) -> Heard:
        now = self.clock()
        stored = tx.current_case(person)
        if stored is None:
            case = open_case(self.guide, self.fresh(), message.language or language, now)
            number = tx.open_case(person, case.code, case.topic, now)
            taken = turn(self.guide, case, message, now)
            self._keep(tx, number, 0, Turn(taken.case, taken.reply, taken.case.events, taken.understood), key)
            return Heard(taken.case, taken.reply, taken.understood)
        case, keys = _load(stored)
        if key is not None and key in keys:
            return Heard(case, look(self.guide, case, now), repeated=True)
        taken = turn(self.guide, case, message, now)
        self._keep(tx, stored.id, len(stored.events), taken, key)
        return Heard(taken.case, taken.reply, taken.understood)

    def _keep(self, tx: "Transaction", number: int, first: int, taken: Turn, key: str | None) -> None:
        rows = [to_json(event) for event in taken.events]
        if key is not None:
            rows = [{**row, "message": key} for row in rows]
        tx.append(number, first, rows)


def _load(stored: "StoredCase") -> tuple[Case, frozenset[str]]:
    """The case that its events make, and the keys of the messages that made them. Raises StoreError."""
    keys = frozenset(str(row["message"]) for row in stored.events if "message" in row)
    try:
        return fold(from_json(_without_key(row)) for row in stored.events), keys
    except ValueError as error:
        raise StoreError(f"case {stored.code} cannot be read: {error}") from error


def _without_key(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name != "message"}
