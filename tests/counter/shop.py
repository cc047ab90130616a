"""A shop: people who write to the bot in private, some of whom are staff, each in a chat of their own."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import count
from pathlib import Path

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.conversation import Guide, plain
from triagebot.counter import invite
from triagebot.delivery import Received
from triagebot.handover import StaffRoom
from triagebot.messages import Incoming, Said, new_code
from triagebot.messages.message import Content
from triagebot.store import Transaction, View
from triagebot.store.staff import Member, Role, Staff, Ticket, Tickets


class Codes:
    """Real case codes in a row: 222-222, 222-223 …"""

    def __init__(self) -> None:
        self.numbers = count()

    def __call__(self) -> str:
        digits = list(_places(next(self.numbers)))
        return new_code(lambda most: digits.pop(0))


def _places(number: int) -> Iterator[int]:
    for place in reversed(range(6)):
        yield number // 30**place % 30


class Shop(Office):
    """An office whose people are called by name; a minute goes by with every message."""

    def __init__(
        self, folder: Path, recorded: RecordedChannel | None = None, rooms: tuple[StaffRoom, ...] = (),
        guide: Guide | None = None,
    ) -> None:  # fmt: skip
        self.recorded = recorded or RecordedChannel()
        super().__init__(folder / "data", guide or shipped_guide(), self.recorded, codes=Codes(), rooms=rooms)

    def end(self) -> None:
        self.close()
        self.runner.close()

    @contextmanager
    def writing(self) -> Iterator[Transaction]:
        with self.store.store.begin() as tx:
            yield tx

    @contextmanager
    def reading(self) -> Iterator[View]:
        with self.store.store.read() as view:
            yield view

    # --- who is staff -------------------------------------------------------------------------------------------

    def invitation(self, role: Role = "staff", name: str = "Ada") -> str:
        with self.writing() as tx:
            return invite(tx, role, name, self.clock())

    def staff(self, who: str, role: Role = "staff", name: str = "") -> None:
        """Somebody becomes staff by writing a code."""
        self.says(who, self.invitation(role, name or who.capitalize()))
        assert self.member(who) is not None

    def mark(self, who: str) -> str:
        with self.reading() as view:
            return view.lookup_hash(f"{self.recorded.name}:{who}")

    def member(self, who: str) -> Member | None:
        with self.reading() as view:
            return Staff(view).member(view.lookup_hash(f"{self.recorded.name}:{who}"))

    # --- who writes what ----------------------------------------------------------------------------------------

    def brings(self, who: str, content: Content | str, **particulars: object) -> Received:
        """`particulars` are those of the message: private, forwarded, key …"""
        self.clock.wait(minutes=1)
        said = Said(content) if isinstance(content, str) else content
        incoming = self.incoming(who, said)
        return self.run(self._bring(replace(incoming, **particulars)))  # type: ignore[arg-type]

    def says(self, who: str, content: Content | str, **particulars: object) -> str:
        """What they read because of it: all that came in their chat, as plain text."""
        before = len(self.recorded.screens[who])
        self.brings(who, content, **particulars)
        return "\n\n".join(plain(shown.reply) for shown in self.recorded.screens[who][before:])

    def again(self, incoming: Incoming) -> Received:
        return self.run(self._bring(incoming))

    def needs_a_person(self, who: str) -> str:
        """Somebody tells something and asks for a person; gives the code of their case."""
        self.says(who, "it stays still, 4 notches, about 40 mm")
        self.says(who, "person")
        return self.code(who)

    # --- what there is ------------------------------------------------------------------------------------------

    def code(self, who: str) -> str:
        held = self.held(who)
        assert held is not None
        return held.case.code

    def ticket(self, code: str) -> Ticket | None:
        with self.reading() as view:
            stored = view.case_by_code(code)
            assert stored is not None
            return Tickets(view).of(stored.id)

    def state(self, code: str) -> str:
        ticket = self.ticket(code)
        return "" if ticket is None else ticket.state

    def cases(self) -> int:
        return len(self.rows("cases", "id"))
