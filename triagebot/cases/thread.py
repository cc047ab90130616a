"""What a customer and the shop have said to each other about a case: the words of both, in the order they were said.

Nothing is kept for this alone. The customer's words are in the case's own events, for as long as a person has it; the
shop's are among the deeds of its members. Both go when the case is forgotten.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.conversation import Case
from triagebot.conversation.events import VISIT_ANSWERED, Closed, Event, Handed, Remarked
from triagebot.conversation.scene import FOR_THEM

if TYPE_CHECKING:
    from triagebot.store import View

#: What a member did when they wrote to whose case it is: in their own words, or with one of the shop's replies.
_WROTE = frozenset({"answered", "said", "accepted", "refused"})


@dataclass(frozen=True, slots=True)
class Words:
    """Something that was said; `name` is that of the member who said it, "" for whose case it is."""

    at: datetime
    text: str
    name: str = ""


def thread_of(view: "View", number: int, case: Case) -> tuple[Words, ...]:
    """All that was said, oldest first."""
    from triagebot.store.staff import Staff  # late: it needs the database library

    theirs = [
        Words(event.at, event.text)
        for event in case.events
        if isinstance(event, Remarked) and event.what == FOR_THEM and event.text.strip()
    ]
    ours = [
        Words(deed.at, str(deed.told["text"]), deed.name)
        for deed in Staff(view).deeds(number)
        if deed.what in _WROTE and deed.told.get("text")
    ]
    return tuple(sorted((*theirs, *ours), key=lambda words: words.at))


def unanswered(words: tuple[Words, ...]) -> tuple[Words, ...]:
    """What the customer has written since the shop wrote last."""
    last = next((place for place in range(len(words), 0, -1) if words[place - 1].name), 0)
    return words[last:]


def _of_the_shop(event: Event) -> bool:
    """Whether the shop did it, and the customer said nothing."""
    return isinstance(event, Handed | Closed) or (isinstance(event, Remarked) and event.what in VISIT_ANSWERED)


def not_heard(view: "View", number: int, before: Case) -> tuple[Words, ...]:
    """What the shop has said since whose case it is last wrote: they are told so when they write, where nothing reaches
    them before. `before`: the case as it stood then."""
    last = max((event.at for event in before.events if not _of_the_shop(event)), default=before.opened)
    return tuple(words for words in thread_of(view, number, before) if words.name and words.at > last)
