"""Cases at which a person must look, and who of the staff has them; read and written inside one transaction.

Decided here and nowhere else: the states of a ticket and how it gets from one to the next.

    waiting -> claimed      the first who takes it on has it: of many at once, one
    claimed -> waiting      given back, or who had it left
    any open -> snoozed     whoever has it lets it sleep until a moment
    snoozed -> claimed      that moment came, or the person wrote; it is still that member's
    any -> closed           with what it really was, or without
    closed -> waiting       a person is needed once more
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Row, and_, bindparam, func, insert, or_, select, update

from triagebot.store.cases import View
from triagebot.store.prepared_statements import Prepared
from triagebot.store.tables import tickets

State = Literal["waiting", "claimed", "snoozed", "closed"]

#: Asked after every message of every case.
_WAKE = Prepared(
    update(tickets)
    .where(tickets.c.case_id == bindparam("case"), tickets.c.state == "snoozed")
    .values(state="claimed", until=None)
)


@dataclass(frozen=True, slots=True)
class Ticket:
    """A case that waits for a person, or waited. `holder` is the mark of the member who has it."""

    case: int
    state: State
    reason: str
    holder: str | None
    until: datetime | None
    opened_at: datetime
    closed_at: datetime | None

    @property
    def open(self) -> bool:
        return self.state != "closed"


class Tickets:
    """The tickets, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection

    def of(self, case: int) -> Ticket | None:
        """The ticket of a case, open or not."""
        row = self.connection.execute(select(tickets).where(tickets.c.case_id == case)).first()
        return None if row is None else _ticket(row)

    def queue(self) -> tuple[Ticket, ...]:
        """All that are open: those that nobody has, then those that somebody has, then those that sleep; each oldest
        first."""
        rows = self.connection.execute(select(tickets).where(tickets.c.state != "closed").order_by(tickets.c.opened_at))
        order = ("waiting", "claimed", "snoozed")
        return tuple(sorted(map(_ticket, rows), key=lambda ticket: order.index(ticket.state)))

    def held_by(self, mark: str) -> tuple[Ticket, ...]:
        """The open ones that a member has, asleep or not, oldest first."""
        mine = select(tickets).where(tickets.c.holder == mark, tickets.c.state.in_(("claimed", "snoozed")))
        return tuple(map(_ticket, self.connection.execute(mine.order_by(tickets.c.opened_at))))

    def open(self, case: int, reason: str, now: datetime) -> bool:
        """A person must look at a case; gives whether that is news: one that is open already stays as it is."""
        row = {"state": "waiting", "reason": reason, "holder": None, "until": None, "opened_at": now, "closed_at": None}
        again = update(tickets).where(tickets.c.case_id == case, tickets.c.state == "closed").values(**row)
        if self.connection.execute(again).rowcount == 1:
            return True
        if self.of(case) is not None:
            return False
        self.connection.execute(insert(tickets), {"case_id": case, "room": None, "place": None, **row})
        return True

    def claim(self, case: int, mark: str) -> bool:
        """A member takes on what nobody has; gives whether they have it now."""
        free = and_(tickets.c.case_id == case, tickets.c.state == "waiting")
        return self._change(free, state="claimed", holder=mark)

    def release(self, case: int) -> bool:
        """Whoever had it has it no more; gives whether somebody had."""
        return self._change(_held(case), state="waiting", holder=None, until=None)

    def release_all(self, mark: str) -> tuple[int, ...]:
        """All that a member has waits again; gives the cases."""
        mine = tuple(ticket.case for ticket in self.held_by(mark))
        for case in mine:
            self.release(case)
        return mine

    def snooze(self, case: int, mark: str, until: datetime) -> bool:
        """Lets a case of a member's, or one that nobody has, sleep until a moment."""
        theirs = or_(tickets.c.holder.is_(None), tickets.c.holder == mark)
        which = and_(tickets.c.case_id == case, tickets.c.state != "closed", theirs)
        return self._change(which, state="snoozed", holder=mark, until=until)

    def wake(self, case: int) -> bool:
        """Wakes a case that sleeps; gives whether it did."""
        return _WAKE.change(self.connection, {"case": case}) == 1

    def due(self, now: datetime) -> tuple[Ticket, ...]:
        """Those that have slept long enough."""
        found = select(tickets).where(tickets.c.state == "snoozed", tickets.c.until <= now)
        return tuple(map(_ticket, self.connection.execute(found.order_by(tickets.c.until))))

    def next_due(self) -> datetime | None:
        """When the next one has slept long enough."""
        found = select(tickets.c.until).where(tickets.c.state == "snoozed").order_by(tickets.c.until).limit(1)
        return self.connection.scalar(found)

    def close(self, case: int, now: datetime) -> bool:
        """Nobody need look at it any more; gives whether somebody had to."""
        which = and_(tickets.c.case_id == case, tickets.c.state != "closed")
        return self._change(which, state="closed", until=None, closed_at=now)

    def lies(self, case: int, room: str) -> None:
        """Says by which mark of a place in a room of the staff's a case is found (see `rooms`)."""
        self.connection.execute(update(tickets).where(tickets.c.case_id == case).values(room=room))

    def lying(self, room: str) -> Ticket | None:
        """The ticket of the case at this place."""
        row = self.connection.execute(select(tickets).where(tickets.c.room == room)).first()
        return None if row is None else _ticket(row)

    def waiting(self) -> int:
        """How many nobody has."""
        found = select(func.count()).select_from(tickets).where(tickets.c.state == "waiting")
        return int(self.connection.scalar(found) or 0)

    def _change(self, which: Any, **values: Any) -> bool:
        return self.connection.execute(update(tickets).where(which).values(**values)).rowcount == 1


def _held(case: int) -> Any:
    return and_(tickets.c.case_id == case, tickets.c.state.in_(("claimed", "snoozed")))


def _ticket(row: Row[Any]) -> Ticket:
    return Ticket(row.case_id, row.state, row.reason, row.holder, row.until, row.opened_at, row.closed_at)
