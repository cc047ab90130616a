"""What the steps of one message are given and give on, and what comes of it. Frozen values."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from triagebot.cases.change_channel import ToOthers
from triagebot.cases.loaded import LoadedCase, Memory
from triagebot.conversation import Case, Event, Fact, Guide, Message, Reply
from triagebot.conversation.events import Remarked
from triagebot.helping.seats import Links, Seat, no_links
from triagebot.messages.codes import new_code
from triagebot.messages.message import Beside, Content, Said
from triagebot.rates import Buckets, Rate
from triagebot.turns.loops import MOST, Loops, shared_place

if TYPE_CHECKING:
    from triagebot.cases.tickets import ToStaff
    from triagebot.handover.to_staff import HandOver
    from triagebot.store import Transaction

#: How many codes of cases that are not theirs somebody names at once, and how fast they get more (a judgement: a code
#: read off a card is mistyped a few times). Beyond that nothing is looked up, and they are told the same.
GUESSES = Rate(8, 1 / 600)

_WORD = re.compile(r"\w+")
#: So many words may stand beside a choice that was said as it was shown.
_BESIDE = 4

#: applied: a turn was taken; double: the same press again; stale: a press of an older message; added: a further part of
#: an album; forgotten: all deleted; unheard: nothing is said or done, since the bot has stopped talking with a program.
Outcome = Literal["applied", "double", "stale", "added", "forgotten", "unheard"]


@dataclass(frozen=True, eq=False)
class Turns:
    """What every message is taken with. `clock` gives aware times; `fresh` makes case codes; `memory` saves reading the
    same case again and again; `links` are the deep links that bring a code along; without a `hand_over` no case goes to
    the staff's room; `loops` notices programs; `guesses` counts who names the codes of cases that are not theirs."""

    guide: Guide
    clock: Callable[[], datetime]
    fresh: Callable[[], str] = new_code
    memory: Memory = field(default_factory=Memory)
    links: Links = no_links
    hand_over: "HandOver | None" = None
    loops: Loops = field(default_factory=Loops)
    guesses: Buckets = field(default_factory=lambda: Buckets(GUESSES, MOST))


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """One message in hand, and what the steps so far have made of it.

    `lookup_hash` is that of `person`; `key` is kept with the events, to find them again. `before` is the case as it
    stood, None for a person who has none; `beside` is somebody else whom the message may be about; `plain` says that it
    is nothing but an answer to the question that is open there; `seat` is their part in the case, if it was opened for
    somebody else.

    Planning the turn sets `case` (the case after it), `events` (what comes to it), `understood`, `reply`, and whether
    the case is `new`; writing it sets `number`, by which the store knows the case. `to_others` is what others are told
    because of it, and `staff` what the members are told who have the case.
    """

    turns: Turns
    tx: "Transaction"
    lookup_hash: str
    person: str
    content: Content | Message
    language: str
    key: str | None
    beside: Beside | None = None
    before: LoadedCase | None = None
    plain: bool = False
    seat: Seat | None = None
    case: Case = None  # type: ignore[assignment]  # no step reads it before the turn is planned
    reply: Reply = None  # type: ignore[assignment]  # the same
    events: tuple[Event, ...] = ()
    understood: tuple[Fact, ...] = ()
    outcome: Outcome = "applied"
    new: bool = False
    number: int = 0
    to_others: tuple[ToOthers, ...] = ()
    staff: "tuple[ToStaff, ...]" = ()

    @property
    def place(self) -> str:
        """Where they talk beside others; "" in private."""
        return shared_place(self.person)

    @property
    def words(self) -> str:
        """What somebody wrote that is not just an answer to the open question, or a choice that was shown with it;
        without what a picture shows, which a channel says with it."""
        text = self.content.text if isinstance(self.content, Said | Message) and not self.plain else ""
        if not text:
            return text
        guide, case = self.turns.guide, self.before.case if self.before is not None else None
        if case is not None:
            labels = guide.setting(case.language, case.now.question).labels
            if any(_is_choice(text, label) for label in labels):
                return ""
        texts = guide.language(self.language if case is None else case.language).texts
        return text.partition(texts("in-the-picture", words="").strip())[0]

    def remarked(self, *what: str) -> bool:
        """Whether the turn noted that the message was one of these."""
        return any(isinstance(event, Remarked) and event.what in what for event in self.events)

    @property
    def shown(self) -> str | None:
        """The question that the person saw open, or that what they had said was asked back about."""
        now = self.before.case.now if self.before is not None else None
        return None if now is None else now.question if now.puzzle is None else now.puzzle.question


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of a message. There is no reply to a press that came twice, or to a further part of an album; a case
    that was forgotten is kept nowhere but here. `number` is that of the case in the store; `to_others` is what others
    are told because of the message, `staff` what the members are told who have the case; `shown` is the question that
    was open before."""

    outcome: Outcome
    case: Case | None
    reply: Reply | None
    understood: tuple[Fact, ...] = ()
    number: int = 0
    to_others: tuple[ToOthers, ...] = ()
    staff: "tuple[ToStaff, ...]" = ()
    shown: str | None = None


def where_others_are(step: Callable[[InHand], InHand | Taken]) -> Callable[[InHand], InHand | Taken]:
    """A step that is only for messages that may be about somebody else's wheel; all others go past it."""
    return lambda at: at if at.beside is None else step(at)


def _is_choice(text: str, label: str) -> bool:
    """Whether a message is a choice in the words in which it was shown, give or take a word: no echo."""
    said, shown = (f" {' '.join(_WORD.findall(each.casefold()))} " for each in (text, label))
    return shown in said and said.count(" ") <= shown.count(" ") + _BESIDE
