"""What the staff are told of a case at which a person must look, besides what they ask.

A member who let a case sleep is told when it wakes: its time came, or its person wrote.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from triagebot.conversation import Guide, Reply, fold_events
from triagebot.conversation.events import from_json
from triagebot.conversation.reply import told
from triagebot.store.post import Post
from triagebot.store.staff import Member, Staff, Ticket, Tickets

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

#: Under this name it is written down that the older cases of a store were looked through.
_LOOKED_THROUGH = "tickets"
#: Who asked for a person longer ago does not wait any more.
STILL_WAITS = timedelta(days=30)
#: What a member's standing says while they try it out as a customer would.
TRYING = "trying"
#: And while they are off duty: true, or from when and until when.
OFF = "off"


def tries_it_out(member: Member | None) -> bool:
    """Whether a person is one of the staff, and tries it out as a customer would: nobody need look at their case."""
    return member is not None and bool(member.standing.get(TRYING))


def is_off(member: Member, now: datetime) -> bool:
    """Whether a member is off duty."""
    said = member.standing.get(OFF)
    if not isinstance(said, dict):
        return bool(said)
    begins, ends = (datetime.fromisoformat(said[name]) if name in said else None for name in ("from", "until"))
    return (begins is None or begins <= now) and (ends is None or now < ends)


def who_hears(tx: "View", number: int, now: datetime) -> tuple[Member, ...]:
    """The members who are told what comes in about a case: the one who has it, or else everybody on duty."""
    ticket, staff = Tickets(tx).of(number), Staff(tx)
    holder = staff.member(ticket.holder) if ticket is not None and ticket.open and ticket.holder is not None else None
    if holder is not None:
        return (holder,)
    return tuple(each for each in staff.members() if not (is_off(each, now) or tries_it_out(each)))


def open_overlooked(tx: "Transaction", guide: Guide, now: datetime) -> int:
    """Opens a ticket for each recent case that ended with a person before there were tickets, once in a store's life;
    gives how many."""
    post = Post(tx)
    if post.place(_LOOKED_THROUGH) is not None:
        return 0
    post.read_to(_LOOKED_THROUGH, now.isoformat())
    tickets, staff, found = Tickets(tx), {member.person for member in Staff(tx).members()}, 0
    for stored in tx.of_topic(guide.topic.id, now - STILL_WAITS):
        if stored.events and stored.person not in staff and tickets.of(stored.id) is None:
            case = fold_events(map(from_json, stored.events))
            if case.now.outcome == "person" and case.closed is None:
                found += tickets.open(stored.id, case.now.reason or "doubt", case.touched)
    return found


@dataclass(frozen=True, slots=True)
class ToStaff:
    """Something to be said to a member, by their lookup hash."""

    person: str
    reply: Reply
    language: str


def wake_due(tx: "Transaction", guide: Guide, now: datetime) -> tuple[ToStaff, ...]:
    """Wakes what has slept long enough."""
    tickets, told = Tickets(tx), list[ToStaff]()
    for ticket in tickets.due(now):
        stored = tx.case(ticket.case)
        if tickets.wake(ticket.case) and stored is not None:
            told += told_awake(tx, guide, ticket, stored.code, "staff-awake")
    return tuple(told)


def told_awake(tx: "Transaction", guide: Guide, ticket: Ticket | None, code: str, text: str) -> tuple[ToStaff, ...]:
    """What the member is told who has a case; nothing where nobody has it, or the member who had it left."""
    holder = Staff(tx).member(ticket.holder) if ticket is not None and ticket.holder is not None else None
    if holder is None:
        return ()
    language = guide.shop.language
    said = guide.language(language).texts(text, code=code)
    return (ToStaff(holder.person, told(said), language),)
