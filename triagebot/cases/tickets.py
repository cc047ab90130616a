"""A case at which a person must look: its ticket is opened and woken in the transaction of the turn that made it so.

Decided here and nowhere else:
- every turn that ends with a person opens a ticket, whatever the reason; trying it out as one of the staff does not;
- whoever let a case sleep is told when it wakes: its time came, or its person wrote.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from triagebot.conversation import Case, Event, Guide, Reply
from triagebot.conversation.case import Concluded
from triagebot.conversation.reply import told
from triagebot.store.staff import Staff, Ticket, Tickets

if TYPE_CHECKING:
    from triagebot.store import Transaction

#: What a member's standing says while they try it out as a customer would.
TRYING = "trying"


@dataclass(frozen=True, slots=True)
class ToStaff:
    """Something to be said to one of the staff, by their mark."""

    person: str
    reply: Reply
    language: str


def after_turn(
    tx: "Transaction", guide: Guide, mark: str, number: int, case: Case, events: Sequence[Event], now: datetime
) -> tuple[ToStaff, ...]:
    """What a turn means for the case's ticket; gives what is to be said to those who have it."""
    tickets = Tickets(tx)
    if any(isinstance(event, Concluded) and event.outcome == "person" for event in events):
        member = Staff(tx).member(mark)
        if member is None or not member.standing.get(TRYING):
            tickets.open(number, case.now.reason or "doubt", now)
    if not tickets.wake(number):
        return ()
    return told_awake(tx, guide, tickets.of(number), case.code, "staff-awake-wrote")


def wake_due(tx: "Transaction", guide: Guide, now: datetime) -> tuple[ToStaff, ...]:
    """Wakes what has slept long enough."""
    tickets, told = Tickets(tx), list[ToStaff]()
    for ticket in tickets.due(now):
        stored = tx.case(ticket.case)
        if tickets.wake(ticket.case) and stored is not None:
            told += told_awake(tx, guide, ticket, stored.code, "staff-awake")
    return tuple(told)


def told_awake(tx: "Transaction", guide: Guide, ticket: Ticket | None, code: str, text: str) -> tuple[ToStaff, ...]:
    """What whoever has a case is told; nothing where nobody has it, or whoever had it left."""
    holder = Staff(tx).member(ticket.holder) if ticket is not None and ticket.holder is not None else None
    if holder is None:
        return ()
    language = guide.shop.language
    said = guide.language(language).texts(text, code=code)
    return (ToStaff(holder.person, told(said), language),)
