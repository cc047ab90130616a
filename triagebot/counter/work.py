"""One message of one member at work, what it takes to answer it, and what comes of it; which case it is about.

Rules of this file:
- which case is meant: the one whose code is said, however it is written; one of the queue by its number there; the one
  of the message that is answered; without any of these that of the bike on their stand, or the only one that they have;
- a case is worked on by the member who has it, and by the owner; one that nobody has by anybody.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from triagebot.cases.change_channel import ToOthers
from triagebot.conversation import Guide, Reply
from triagebot.conversation.reply import told
from triagebot.counter.case_summary import shown_time
from triagebot.counter.words import Order, StaffWords
from triagebot.messages.codes import read_code
from triagebot.messages.message import Arrived
from triagebot.shop import Shop, fold
from triagebot.store.bikes import Bikes
from triagebot.store.staff import Member, Staff, Ticket, Tickets
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction

#: A code is written in so many words at most.
_CODE_WORDS = 3
#: What a member's standing has of the queue as they read it last: its cases, in order.
QUEUE = "queue"
#: And of the bike that they are at: the number of its case.
BIKE = "bike"


@dataclass(frozen=True, slots=True)
class Attended:
    """What one of the staff is answered. `turn` goes with the buttons of the reply; `answered` is what a message was
    understood to say. `to_others` is said to others. With `instead`, that is taken as if they had said it, as a
    customer, and `before` stands in front of what they are told then. `sleeps`: something sleeps from now on.
    `closed` is the number of a case that was closed; the photos of the message are kept for the one with the number
    `photos_of`. `wrote` is that of one to whose person the member wrote; `photos` go there, too, each with where its
    channel finds it."""

    reply: Reply | None
    turn: int = 0
    answered: str = ""
    to_others: tuple[ToOthers, ...] = ()
    before: str = ""
    instead: Arrived | None = None
    sleeps: bool = False
    closed: int = 0
    photos_of: int = 0
    wrote: int = 0
    photos: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class Work:
    """One message of one member: everything that it takes to answer it. `guide` is to the shop as it hangs there now,
    without what was lent out; `shop` has all of it. `about` is the code of the case that the answered message names;
    `photos` came with the words, each by where its channel finds it."""

    tx: "Transaction"
    guide: Guide
    shop: Shop
    member: Member
    texts: Texts
    words: StaffWords
    now: datetime
    about: str = ""
    photos: tuple[Mapping[str, Any], ...] = ()

    @property
    def tickets(self) -> Tickets:
        return Tickets(self.tx)

    def case_of(self, rest: str) -> "tuple[StoredCase, str] | None":
        """The case that is meant, and what is said about it; None where that is not clear."""
        found = named_case(self.tx, rest) or named_case(self.tx, self._from_the_code(rest))
        if found is not None or looks_like_a_code(rest):
            return found
        if rest.isdecimal() and (numbered := self._numbered(int(rest))) is not None:
            return numbered, ""
        if self.about and (stored := self.tx.case_by_code(self.about)) is not None:
            return stored, rest
        if (stored := self.on_the_stand()) is not None:
            return stored, rest
        mine = self.tickets.held_by(self.member.person)
        stored = self.tx.case(mine[0].case) if len(mine) == 1 else None
        return None if stored is None else (stored, rest)

    def _from_the_code(self, rest: str) -> str:
        """What was said from a code on that stands behind small words: "to K7M-4QX at five"."""
        said = rest.split()
        small = next((n for n, word in enumerate(said) if fold(word) not in self.words.before_codes), len(said))
        return " ".join(said[small:])

    def on_the_stand(self) -> "StoredCase | None":
        """The case of the bike that this member is at; None where it is closed or gone."""
        number = self.member.standing.get(BIKE)
        bike = Bikes(self.tx).of(number) if number else None
        return self.tx.case(bike.case) if bike is not None and bike.done is None else None

    def _numbered(self, number: int) -> "StoredCase | None":
        """The case of this number in the queue as this member read it last."""
        listed = self.member.standing.get(QUEUE) or [ticket.case for ticket in self.tickets.queue()]
        return self.tx.case(listed[number - 1]) if 1 <= number <= len(listed) else None

    def which_case(self, order: Order, text: str) -> str:
        """What is said where it is not clear which case is meant."""
        first = order.rest.split()[0] if order.rest.split() else ""
        if looks_like_a_code(order.rest):
            return self.texts("staff-no-case", code=first.upper())
        if order.rest.isdecimal():
            return self.texts("staff-no-number", number=order.rest, count=len(self.tickets.queue()))
        return self.texts("staff-which-case", command=text.split(maxsplit=1)[0].lower())

    def when(self, moment: datetime) -> str:
        """A moment as the shop's clock shows it; with its day if that is not today."""
        return shown_time(self.guide, self.texts, moment, self.now)

    def name_of(self, lookup_hash: str | None) -> str:
        member = Staff(self.tx).member(lookup_hash) if lookup_hash is not None else None
        return member.name if member is not None else "?"

    def did(self, deed: str, case: int | None, **told: object) -> None:
        Staff(self.tx).did(self.member, deed, self.now, case, **told)

    def may(self, ticket: Ticket | None) -> bool:
        """Whether this member may do something with a case that somebody may have."""
        free = ticket is None or ticket.holder in (None, self.member.person) or not ticket.open
        return free or self.member.role == "owner"


def answer(text: str) -> Attended:
    """Nothing but words."""
    return Attended(_words(text))


def _words(text: str) -> Reply:
    return told(text)


def named_case(tx: "Transaction", text: str) -> "tuple[StoredCase, str] | None":
    """The case whose code a text begins with, and what stands behind the code."""
    words = text.split()
    for length in range(min(_CODE_WORDS, len(words)), 0, -1):
        code = read_code(" ".join(words[:length]))
        stored = tx.case_by_code(code) if code is not None else None
        if stored is not None:
            return stored, " ".join(words[length:])
    return None


def is_ordinary(work: Work, word: str) -> bool:
    """Whether a word is one of the language's, or one that the staff use, and so no name and no code."""
    words, common = work.words, work.guide.language(work.texts.language).words.common
    return common(word) or any(word in known for known in (words.senses, words.asking, words.articles, words.told))


def looks_like_a_code(rest: str) -> bool:
    """Whether somebody meant to write a code there, though no case has it."""
    first = rest.split(maxsplit=1)[0] if rest.split() else ""
    return read_code(first) is not None and (not first.isalpha() or first.isupper())
