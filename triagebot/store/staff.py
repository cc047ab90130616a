"""Who works at the shop, what they did, and the cases that wait for them; read and written inside one transaction.

Decided here and nowhere else:
- somebody who left has no role: only a row without an end gives one;
- names are told apart as people would (`fold`), and no two members have the same;
- deeds are only ever added: nothing here changes or deletes one; those of a case go with it;
- the states of a ticket, and how it gets from one to the next:

    waiting -> claimed      the first who takes it on has it: of many at once, one
    claimed -> waiting      given back, or its holder left
    any open -> snoozed     its holder lets it sleep until a moment
    snoozed -> claimed      that moment came, or the person wrote; it is still that member's
    any -> closed           with what it really was, or without
    closed -> waiting       a person is needed once more
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import count
from typing import Any, Literal

from sqlalchemy import Row, and_, bindparam, func, insert, or_, select, update

from triagebot.shop import fold
from triagebot.store.database import Prepared
from triagebot.store.post import Post
from triagebot.store.tables import deeds, staff, tickets
from triagebot.store.transactions import View

Role = Literal["staff", "owner"]
State = Literal["waiting", "claimed", "snoozed", "closed"]

#: What of a member's standing outlasts what they are doing.
_STAYS = ("off", "queue", "bike", "lent", "seen")
#: Asked at every message.
_AT_WORK = Prepared(select(staff).where(staff.c.person == bindparam("who"), staff.c.ended_at.is_(None)))
#: Asked after every message of every case.
_SLEEPS = Prepared(
    select(tickets.c.case_id).where(tickets.c.case_id == bindparam("case"), tickets.c.state == "snoozed")
)
_WAKE = Prepared(
    update(tickets)
    .where(tickets.c.case_id == bindparam("case"), tickets.c.state == "snoozed")
    .values(state="claimed", until=None)
)


@dataclass(frozen=True, slots=True)
class Member:
    """One of the staff, by the hash of the `person`. `standing` is what they are doing, as a JSON object."""

    person: str
    role: Role
    name: str
    since: datetime
    standing: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that one of the staff did, by their name at that time; `told` are its particulars."""

    name: str
    what: str
    at: datetime
    told: Mapping[str, Any]


class Staff:
    """The staff, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def member(self, person: str) -> Member | None:
        """A person as one of the staff, if they are one now."""
        row = _AT_WORK.first(self.connection, {"who": person})
        return None if row is None else self._member(row)

    def members(self) -> tuple[Member, ...]:
        """Everybody who is one of the staff now, longest first."""
        rows = self.connection.execute(select(staff).where(staff.c.ended_at.is_(None)).order_by(staff.c.since))
        return tuple(self._member(row) for row in rows)

    def named(self, name: str) -> Member | None:
        """The member with this name, however it is spelt."""
        return next((member for member in self.members() if fold(member.name) == fold(name)), None)

    def admit(self, person: str, role: Role, name: str, now: datetime) -> Member:
        """Makes somebody one of the staff; a member keeps the higher role. A name that is taken gets a number."""
        before = self.member(person)
        taken = {fold(member.name) for member in self.members() if member.person != person}
        tried = (name if number == 1 else f"{name} {number}" for number in count(1))
        name = next(each for each in tried if fold(each) not in taken)
        if before is not None and before.role == "owner":
            role = "owner"
        row = {"role": role, "body": self.cipher.encrypt_json({"name": name}), "since": now, "ended_at": None}
        if self.connection.execute(update(staff).where(staff.c.person == person).values(**row)).rowcount == 0:
            self.connection.execute(insert(staff), {"person": person, **row})
        return Member(person, role, name, now)

    def remove(self, person: str, now: datetime) -> bool:
        """Ends somebody's time on the staff; gives whether they were a member."""
        ending = update(staff).where(staff.c.person == person, staff.c.ended_at.is_(None)).values(ended_at=now)
        return self.connection.execute(ending).rowcount == 1

    def stand(self, member: Member, standing: Mapping[str, Any]) -> None:
        """Remembers what a member is doing; whether they are on duty stays as it is, unless it is said anew."""
        kept = {name: member.standing[name] for name in _STAYS if name in member.standing}
        body = self.cipher.encrypt_json({"name": member.name, "standing": kept | dict(standing)})
        self.connection.execute(update(staff).where(staff.c.person == member.person).values(body=body))

    # --- who did what -------------------------------------------------------------------------------------------

    def did(self, who: Member, what: str, at: datetime, case_id: int | None = None, **told: Any) -> None:
        """Writes down that a member did something, to a case or to none."""
        row = {
            "case_id": case_id,
            "person": who.person,
            "what": what,
            "at": at,
            "body": (self.cipher if case_id is None else self.cipher.of_case(case_id)).encrypt_json(
                {"name": who.name, "told": told}
            ),
        }
        self.connection.execute(insert(deeds), row)

    def deeds(self, case_id: int) -> tuple[Deed, ...]:
        """What was done to a case, oldest first."""
        rows = self.connection.execute(select(deeds).where(deeds.c.case_id == case_id).order_by(deeds.c.id))
        found = ((row, self.cipher.decrypt_json(row.body)) for row in rows)
        return tuple(Deed(body["name"], row.what, row.at, body["told"]) for row, body in found)

    def closings(self) -> dict[int, str | None]:
        """What each case that was closed really was, as was said last: a fastening's id, None where nobody knows."""
        rows = self.connection.execute(select(deeds).where(deeds.c.what == "closed").order_by(deeds.c.id))
        return {row.case_id: self.cipher.decrypt_json(row.body)["told"].get("fastening") for row in rows}

    def _member(self, row: Any) -> Member:
        body = self.cipher.decrypt_json(row.body)
        return Member(row.person, row.role, body["name"], row.since, body.get("standing", {}))


@dataclass(frozen=True, slots=True)
class Ticket:
    """A case that waits for a person, or waited. `holder` is the member who has it, by the hash of the person."""

    case: int
    state: State
    reason: str
    holder: str | None
    until: datetime | None
    opened_at: datetime

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
        order = ("waiting", "claimed", "snoozed")  # not "other than closed": the closed ones are nearly all there are
        rows = self.connection.execute(select(tickets).where(tickets.c.state.in_(order)).order_by(tickets.c.opened_at))
        return tuple(sorted(map(_ticket, rows), key=lambda ticket: order.index(ticket.state)))

    def held_by(self, person: str) -> tuple[Ticket, ...]:
        """The open ones that a member has, asleep or not, oldest first."""
        mine = select(tickets).where(tickets.c.holder == person, tickets.c.state.in_(("claimed", "snoozed")))
        return tuple(map(_ticket, self.connection.execute(mine.order_by(tickets.c.opened_at))))

    def open(self, case: int, reason: str, now: datetime) -> bool:
        """A person must look at a case; gives whether that is news: a ticket that is open already stays as it is."""
        row = {"state": "waiting", "reason": reason, "holder": None, "until": None, "opened_at": now}
        again = update(tickets).where(tickets.c.case_id == case, tickets.c.state == "closed").values(**row)
        if self.connection.execute(again).rowcount == 1:
            return True
        if self.of(case) is not None:
            return False
        self.connection.execute(insert(tickets), {"case_id": case, "room": None, **row})
        return True

    def claim(self, case: int, person: str) -> bool:
        """A member takes on what nobody has; gives whether they have it now."""
        free = and_(tickets.c.case_id == case, tickets.c.state == "waiting")
        return self._change(free, state="claimed", holder=person)

    def release(self, case: int) -> bool:
        """Takes it from its holder; gives whether it had one."""
        return self._change(_held(case), state="waiting", holder=None, until=None)

    def release_all(self, person: str) -> tuple[int, ...]:
        """All that a member has waits again; gives the cases."""
        mine = tuple(ticket.case for ticket in self.held_by(person))
        for case in mine:
            self.release(case)
        return mine

    def snooze(self, case: int, person: str, until: datetime) -> bool:
        """Lets a case of a member's, or one that nobody has, sleep until a moment."""
        theirs = or_(tickets.c.holder.is_(None), tickets.c.holder == person)
        which = and_(tickets.c.case_id == case, tickets.c.state != "closed", theirs)
        return self._change(which, state="snoozed", holder=person, until=until)

    def wake(self, case: int) -> bool:
        """Wakes a case that sleeps; gives whether it did."""
        given = {"case": case}
        return _SLEEPS.first(self.connection, given) is not None and _WAKE.change(self.connection, given) == 1

    def due(self, now: datetime) -> tuple[Ticket, ...]:
        """Those that have slept long enough."""
        found = select(tickets).where(tickets.c.state == "snoozed", tickets.c.until <= now)
        return tuple(map(_ticket, self.connection.execute(found.order_by(tickets.c.until))))

    def next_due(self) -> datetime | None:
        """When the next one has slept long enough."""
        found = select(tickets.c.until).where(tickets.c.state == "snoozed").order_by(tickets.c.until).limit(1)
        return self.connection.scalar(found)

    def close(self, case: int) -> bool:
        """Nobody need look at it any more; gives whether somebody had to."""
        which = and_(tickets.c.case_id == case, tickets.c.state != "closed")
        return self._change(which, state="closed", until=None)

    def set_thread(self, case: int, thread: str) -> None:
        """Says in which thread of the staff's room a case is, by its hash (see `thread_hash`)."""
        self.connection.execute(update(tickets).where(tickets.c.case_id == case).values(room=thread))

    def in_thread(self, thread: str) -> Ticket | None:
        """The ticket of the case in this thread."""
        row = self.connection.execute(select(tickets).where(tickets.c.room == thread)).first()
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
    return Ticket(row.case_id, row.state, row.reason, row.holder, row.until, row.opened_at)


# --- the staff's room -------------------------------------------------------------------------------------------------


def settle(view: View, channel: str, conversation: str, body: Mapping[str, Any], receipt: Mapping[str, Any]) -> None:
    """Keeps what a receipt says of the place where a message went: the conversation's `address` from now on, and the
    `thread` by which a case is known in the staff's room."""
    if "address" in receipt:
        Post(view).set_address(conversation, channel, receipt["address"])
    thread = receipt.get("thread") or receipt.get("lies")  # as receipts called it that an older version left behind
    if thread and "number" in body:
        Tickets(view).set_thread(body["number"], thread_hash(view, channel, thread))


def thread_hash(view: View, channel: str, thread: str) -> str:
    """What a thread in a room is looked up by."""
    return view.cipher.lookup_hash("room", channel, thread)
