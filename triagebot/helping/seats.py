"""Who takes part in a case that was opened for somebody else, and what comes of a message of theirs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import LoadedCase, unfolded
from triagebot.conversation import Case, Event, Fact, Guide, Message, Reply
from triagebot.conversation.mentoring import MENTOR, RIDER
from triagebot.conversation.reply import told
from triagebot.messages.message import Content, Pressed, turn_number
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction
    from triagebot.store.parties import Parties, Party

#: The deep links that bring a code along, for somebody who is reached by the channel of that name the best one first.
Links = Callable[[str, str], Sequence[str]]


def no_links(code: str, channel: str) -> Sequence[str]:
    """Where no deep link leads in."""
    return ()


def join_page(address: str, code: str) -> str:
    """The page on which somebody says a code with one press; "" where people reach no pages."""
    return f"{address}/join/{code}" if address else ""


@dataclass(frozen=True, slots=True)
class Here:
    """One message of one person, and everything that it takes to answer it. `fresh` makes case codes."""

    guide: Guide
    now: datetime
    fresh: Callable[[], str]
    links: Links
    tx: "Transaction"
    lookup_hash: str
    person: str
    language: str

    @property
    def parties(self) -> "Parties":
        from triagebot.store.parties import Parties  # late: it needs the database library

        return Parties(self.tx)

    def texts(self, language: str = "") -> Texts:
        return self.guide.language(language or self.language).texts


@dataclass(frozen=True, slots=True)
class Seat:
    """Somebody's part in a case that was opened for somebody else, and who else takes part. `moved`: they came from
    another such case with this message."""

    party: "Party"
    others: "tuple[Party, ...]"
    moved: bool = False

    @property
    def by(self) -> str:
        """As whom they give answers."""
        return MENTOR if self.party.role == "mentor" else RIDER

    @property
    def shared(self) -> bool:
        """Whether both a rider and a mentor take part."""
        return len({party.role for party in (self.party, *self.others)} - {"invited"}) > 1

    def of(self, role: str) -> "list[Party]":
        return [party for party in self.others if party.role == role and not party.away]


@dataclass(frozen=True, slots=True)
class At:
    """Where somebody's message belongs: the case that they are at, their part in it, and what they say there."""

    held: LoadedCase | None
    seat: Seat | None
    content: Content | Message


@dataclass(frozen=True, slots=True)
class Made:
    """What a turn made of a case: as it was before, as it is, the new events, and what was understood."""

    before: Case
    case: Case
    events: Sequence[Event]
    understood: Sequence[Fact]


@dataclass(frozen=True, slots=True)
class Spoken:
    """What somebody is answered, and what others are told because of it; no turn is taken on their message."""

    case: Case | None
    reply: Reply
    number: int = 0
    to_others: tuple[ToOthers, ...] = ()


def seat_of(tx: "Transaction", held: LoadedCase | None, lookup_hash: str) -> Seat | None:
    """Somebody's part in a case that was opened for somebody else; None for any other case."""
    if held is None or not held.case.for_a_rider:
        return None
    from triagebot.store.parties import Parties  # late: it needs the database library

    parties = Parties(tx).all_of(held.number)
    own = next((party for party in parties if party.person == lookup_hash), None)
    return None if own is None else Seat(own, tuple(party for party in parties if party.person != lookup_hash))


def pressed_elsewhere(tx: "Transaction", lookup_hash: str, press: Pressed) -> LoadedCase | None:
    """The case of somebody's that a button belongs to, though they are at another one, if it shows that as it stands:
    they go on with it. Only among those that were opened for somebody else."""
    stored = tx.case_by_code(press.case) if press.case else None
    if stored is None or lookup_hash not in tx.parties(stored.id):
        return None
    held = unfolded(stored)
    if not held.case.for_a_rider or press.turn != turn_number(held.case):
        return None
    tx.join(stored.id, lookup_hash, "person")
    return held


def answer(text: str) -> Reply:
    """Nothing but words."""
    return told(text)


def choice_of(content: Content | Message, case: Case) -> str:
    match content:
        case Pressed(code, _, choice) if code == case.code:
            return choice
        case Message(choice=choice) if choice is not None:
            return choice
        case _:
            return ""


def reached_of(tx: "Transaction", number: int) -> frozenset[str]:
    return frozenset(reached(tx, number))


def is_at(tx: "Transaction", party: "Party") -> bool:
    """Whether this is the case that somebody is at."""
    standing = tx.current_version(party.person)
    return standing is not None and standing[0] == party.case


def called(texts: Texts, party: "Party") -> str:
    return party.name or texts("mentor-nameless")
