"""Cases as the delivery holds them: folded, with what is needed to tell repeats, and remembered for a while.

What is remembered is never trusted: a case is used again only if the database still has the same one with the same
number of events. Events are only ever added, so then it is the same. Any other process may write in between.

Several messages of one person may have their turns in one transaction. What such a turn made of the case is remembered
with the transaction, for the next one, and for everybody once it is committed: a case is read and folded once, however
many messages come at once.
"""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING, Any

from triagebot.conversation import Case, Event, fold_events
from triagebot.conversation.events import Answered, from_json, to_json
from triagebot.errors import StoreError

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction

#: How many cases are remembered; some 8 kB each at the end of a conversation.
MOST = 250


@dataclass(frozen=True, slots=True)
class LoadedCase:
    """A case and its number in the store; the questions that the message of each key answered; the presses that were
    taken, and the one that made the last event ("" if something else did); the albums of which a part came."""

    number: int
    case: Case
    messages: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    presses: frozenset[str] = frozenset()
    last_press: str = ""
    albums: frozenset[str] = frozenset()


def rows_of(events: Sequence[Event], beside: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Events as they are stored, each with what it came of (by the names of `journal.BESIDE`)."""
    return [{**to_json(event), **beside} for event in events]


def continued(held: LoadedCase, case: Case, events: Sequence[Event], beside: Mapping[str, Any]) -> LoadedCase:
    """What is held once these events came to it."""
    if not events:
        return held
    messages = {**held.messages}
    key, press = beside.get("message"), beside.get("press", "")
    if key is not None:
        messages[key] = _questions(events)
    presses = held.presses | {press} if press else held.presses
    albums = held.albums | {beside["album"]} if "album" in beside else held.albums
    return LoadedCase(held.number, case, messages, presses, press, albums)


def unfolded(stored: "StoredCase") -> LoadedCase:
    """The case that its rows make. Raises StoreError for what cannot be understood."""
    try:
        events = list(map(from_json, stored.events))
        case = fold_events(events)
    except ValueError as error:
        raise StoreError(f"case {stored.code} cannot be read: {error}") from error
    messages: dict[str, tuple[str, ...]] = {}
    presses: set[str] = set()
    for event, row in zip(events, stored.events, strict=True):
        if "message" in row:
            messages[str(row["message"])] = (*messages.get(str(row["message"]), ()), *_questions([event]))
        if "press" in row:
            presses.add(str(row["press"]))
    last = str(stored.events[-1].get("press", ""))
    albums = frozenset(str(row["album"]) for row in stored.events if "album" in row)
    return LoadedCase(stored.id, case, messages, frozenset(presses), last, albums)


def _questions(events: Sequence[Event]) -> tuple[str, ...]:
    facts = [fact for event in events if isinstance(event, Answered) for fact in event.facts]
    return tuple(dict.fromkeys(fact.reading.question for fact in facts))


class Memory:
    """The cases that were used last. Threads may share it."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._held: OrderedDict[str, LoadedCase] = OrderedDict()
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._held)

    def current(self, tx: "Transaction", lookup_hash: str) -> LoadedCase | None:
        """The newest case of a person, as it stands in this transaction. Raises StoreError."""
        standing = tx.current_version(lookup_hash)
        if standing is None:
            return None
        number, length = standing
        held: LoadedCase | None
        for held in (tx.drafts.get(lookup_hash), self._remembered(lookup_hash)):
            if held is not None and (held.number, len(held.case.events)) == (number, length):
                return held
        stored = tx.case(number)
        assert stored is not None, "a case that stands has rows"
        return unfolded(stored)

    def keep(self, tx: "Transaction", lookup_hash: str, held: LoadedCase) -> None:
        """Remembers a case for the rest of the transaction, and beyond it once that is committed."""
        tx.drafts[lookup_hash] = held
        tx.after_commit.append(lambda: self._keep(lookup_hash, held))

    def drop(self, tx: "Transaction", lookup_hash: str) -> None:
        """Remembers nothing of a person, once the transaction is committed."""
        tx.drafts.pop(lookup_hash, None)
        tx.after_commit.append(lambda: self._drop(lookup_hash))

    def _remembered(self, lookup_hash: str) -> LoadedCase | None:
        with self._lock:
            held = self._held.get(lookup_hash)
            if held is not None:
                self._held.move_to_end(lookup_hash)
        return held

    def _drop(self, lookup_hash: str) -> None:
        with self._lock:
            self._held.pop(lookup_hash, None)

    def _keep(self, lookup_hash: str, held: LoadedCase) -> None:
        with self._lock:
            self._held[lookup_hash] = held
            self._held.move_to_end(lookup_hash)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
