"""Doubles for the person who tests against triagebot: a clock that moves when told to, a person who says what is
written.

Nothing here pretends to be a part of ours: turns, sittings and stores are the real ones.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count

from triagebot.conversation import Case, Guide, Message, Reply, Turn, greet, open_case, turn

START = datetime(2026, 3, 2, 10, tzinfo=UTC)


@dataclass
class Clock:
    """Gives one moment again and again until it is moved on; `WaitingClient` takes it as its `clock`."""

    now: datetime = START

    def __call__(self) -> datetime:
        return self.now

    def wait(self, **much: float) -> None:
        """Let time pass: `wait(days=3)`, as for `timedelta`."""
        self.now += timedelta(**much)


@dataclass
class Codes:
    """Case codes in a row, AAA-001, AAA-002 …; `WaitingClient` takes it as its `fresh`."""

    numbers: "count[int]" = field(default_factory=lambda: count(1))

    def __call__(self) -> str:
        return f"AAA-{next(self.numbers):03}"


class ScriptedPerson:
    """Somebody in a conversation that no store keeps: every turn one minute after the one before."""

    def __init__(self, guide: Guide, clock: Clock | None = None, code: str = "AAA-001", language: str = "en") -> None:
        self.guide = guide
        self.clock = clock or Clock()
        self.last: Turn = greet(guide, open_case(guide, code, language, self.clock()), self.clock())

    @property
    def case(self) -> Case:
        return self.last.case

    @property
    def reply(self) -> Reply:
        return self.last.reply

    def send(self, message: Message) -> Turn:
        """One message, one turn."""
        self.clock.wait(minutes=1)
        self.last = turn(self.guide, self.case, message, self.clock())
        return self.last

    def says(self, *texts: str) -> Reply:
        """Say these one after another; gives the last reply."""
        for text in texts:
            self.send(Message(text))
        return self.reply

    def presses(self, choice: str) -> Reply:
        """Press a button."""
        return self.send(Message(choice=choice)).reply

    def changes(self, question: str) -> Reply:
        """Ask to change the answer to this question, and pick it from the list if one is shown."""
        known = list(dict.fromkeys(fact.reading.question for fact in self.case.now.facts))
        self.says("change")
        return self.says(str(known.index(question) + 1)) if self.case.now.picking else self.reply
