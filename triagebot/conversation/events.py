"""What happens in a case, as it is kept: each event with all that it takes to fold it, never a belief or a wording."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

from triagebot.conversation.journal import Journal, Tagged
from triagebot.conversation.understood import Fact, Puzzle

Outcome = Literal["answer", "look-alike", "person", "stopped"]
#: Why a person must look.
Reason = Literal["", "asked", "doubt", "unlisted", "no-remover", "mistaken", "referral", "stuck"]

#: What is noted of a visit that the staff agreed to, and of one that they refused or took back: the shop says these.
VISIT_ANSWERED = ("visit-agreed", "visit-refused")


@dataclass(frozen=True, slots=True)
class Opened:
    """A case begins: its code, the topic and the digest of the topic's files that it was opened with."""

    at: datetime
    code: str
    topic: str
    digest: str
    language: str
    start: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question was put. `again`: it had been answered before; `doubted`: that answer does not fit the others.

    `still`: it was open already and not answered yet, so it counts once; `beside`: the outcome reached stays; `first`:
    the ability question ("is the wheel out?") that it stands for too, since it carries what to do first.
    """

    at: datetime
    question: str
    state: str
    again: bool = False
    doubted: bool = False
    still: bool = False
    beside: bool = False
    first: str = ""

    @property
    def put(self) -> tuple[str, ...]:
        """The questions of which it is one more asking."""
        return tuple(filter(None, (self.first, "" if self.still else self.question)))


@dataclass(frozen=True, slots=True)
class Answered:
    """A message that gave readings, or touched on questions; `text` is what was written, `by` who wrote it."""

    at: datetime
    facts: tuple[Annotated[Fact, Tagged("kind")], ...]
    mentions: tuple[str, ...] = ()
    text: str = ""
    by: str = "person"


@dataclass(frozen=True, slots=True)
class Puzzled:
    """Something that was said is asked back before it counts."""

    at: datetime
    puzzle: Annotated[Puzzle, Tagged("kind")]
    state: str


@dataclass(frozen=True, slots=True)
class Listed:
    """The person wants to change an answer and was shown which there are."""

    at: datetime


@dataclass(frozen=True, slots=True)
class Withdrew:
    """The person takes back what was said about a question."""

    at: datetime
    question: str


@dataclass(frozen=True, slots=True)
class Insisted:
    """The person stands by an answer that was asked for again: the question is not asked any more."""

    at: datetime
    question: str


@dataclass(frozen=True, slots=True)
class Undid:
    """One answer back."""

    at: datetime


@dataclass(frozen=True, slots=True)
class Concluded:
    """The conversation reached an outcome; `reason` says why a person must look, `named` the fastenings whose removers
    were named."""

    at: datetime
    outcome: Outcome
    state: str
    reason: Reason = ""
    named: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stepped:
    """Somebody is led through a procedure and is at this `step`. `exit`: what they said that led here, "" where it
    began; `helped`: what they were told to try, by its id, if they are still at the step."""

    at: datetime
    procedure: str
    step: str
    state: str
    exit: str = ""
    helped: str = ""


@dataclass(frozen=True, slots=True)
class LeftSteps:
    """They are led on no further: `finished`, or for now."""

    at: datetime
    state: str
    finished: bool = False


@dataclass(frozen=True, slots=True)
class Restarted:
    """From the beginning; the events before stay."""

    at: datetime
    state: str


@dataclass(frozen=True, slots=True)
class Adopted:
    """The topic had changed since: answers to questions or choices that are gone were dropped (`lost`).

    `question` is the one that stays open, in `state`; None where what was open or reached has to be found anew.
    """

    at: datetime
    digest: str
    lost: tuple[str, ...]
    question: str | None
    state: str


@dataclass(frozen=True, slots=True)
class Remarked:
    """A message that changed nothing: a command, small talk, or something that was not understood."""

    at: datetime
    what: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Spoke:
    """The person chose another language."""

    at: datetime
    language: str


@dataclass(frozen=True, slots=True)
class Closed:
    """A member of staff says what it really was: the fastening's id (None: not known, or not listed by that name), and
    whether the remover that was named fitted (None: not tried). `by` is the member's name. Said again, it replaces
    what was said before; it changes nothing of the conversation, which may go on. `sure`: it contradicts what the case
    tells, and they said so when asked."""

    at: datetime
    fastening: str | None
    fitted: bool | None
    by: str
    sure: bool = False


@dataclass(frozen=True, slots=True)
class Handed:
    """A person of the shop has the conversation from now on, and the bot keeps quiet."""

    at: datetime


@dataclass(frozen=True, slots=True)
class Returned:
    """The bot has it again; `by` is the name of the member who gave it back, "person" for whose case it is, or "bot"
    where they never heard that a person had it."""

    at: datetime
    by: str = "person"


Event = (
    Opened
    | Asked
    | Answered
    | Puzzled
    | Listed
    | Withdrew
    | Insisted
    | Undid
    | Concluded
    | Stepped
    | LeftSteps
    | Restarted
    | Adopted
    | Remarked
    | Spoke
    | Closed
    | Handed
    | Returned
)

_JOURNAL: Journal[Event] = Journal(Event)
#: An event as it is stored, and back (`Journal`).
to_json, from_json = _JOURNAL.to_json, _JOURNAL.from_json


def news(events: Iterable[Event]) -> bool:
    """Whether something was told in these, or a question put that was not open before."""
    return any(isinstance(each, Answered) or (isinstance(each, Asked) and not each.still) for each in events)
