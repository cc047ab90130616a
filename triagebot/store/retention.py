"""Deletes what was kept for as long as it may be (`shop/retention.yaml` says how long).

Rules of this file:
- what is due is looked for while others write, and deleted a few rows at a time: nobody waits for it;
- when it is deleted, it is looked at again: what changed since it was found stays;
- a case goes with all that belongs to it, and where nothing else of its person is kept, so does where they are reached.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from sqlalchemy import ColumnElement, Select, Table, and_, delete, func, or_, select, update

from triagebot.store.encryption import DecryptionError
from triagebot.store.forgetting import NOBODY, drop
from triagebot.store.person_keys import without_keys
from triagebot.store.tables import (
    bikes,
    cases,
    conversations,
    deeds,
    events,
    grants,
    inbox,
    loans,
    outbox,
    parties,
    photos,
    positions,
    requests,
    staff,
    tickets,
)
from triagebot.store.transactions import Store, Transaction, View

#: Rows that are looked at, and deleted, at once.
AT_ONCE = 200

#: What is due, by number; with the number from which to go on, None at the end.
Page = tuple[tuple[Any, ...], Any]


@dataclass(frozen=True, slots=True)
class Kind:
    """How one kind is found and deleted. `find` is given the moment before which it is due, and where to go on;
    `remove` gives how many of these were deleted."""

    find: Callable[[View, datetime, Any], Page]
    remove: Callable[[Transaction, tuple[Any, ...], datetime], int]


@dataclass(frozen=True, slots=True)
class Job:
    """Some rows of a kind that are due."""

    kind: str
    numbers: tuple[Any, ...]
    before: datetime

    def __call__(self, tx: Transaction) -> int:
        """Deletes them; gives how many that were."""
        return KINDS[self.kind].remove(tx, self.numbers, self.before)


def due(store: Store, kept: Mapping[str, timedelta], now: datetime) -> Iterator[Job]:
    """All that is due, some rows at a time, each looked for once the one before was taken."""
    for name, kind in KINDS.items():
        before, after = now - kept[name], None
        while True:
            with store.read() as view:
                numbers, after = kind.find(view, before, after)
            if numbers:
                yield Job(name, numbers, before)
            if after is None:
                break


def unkeyed(store: Store) -> Iterator[Callable[[Transaction], None]]:
    """What is left to do in a store from before people had keys, some of it at a time."""
    while True:
        with store.read() as view:
            numbers, people = without_keys(view.connection, AT_ONCE // 10)
        if not (numbers or people):
            return
        yield partial(_make_keys, numbers, people)


def _make_keys(numbers: tuple[int, ...], people: tuple[str, ...], tx: Transaction) -> None:
    for number in numbers:
        if tx.code_of(number):
            tx.cipher.of_case(number)
    for person in people:
        tx.cipher.of_person(person)


# --- cases ------------------------------------------------------------------------------------------------------------


def _find_cases(view: View, before: datetime, after: Any) -> Page:
    """Each with the number of its events: one that has more of them when it is to be deleted stays."""
    in_use = (
        select(tickets.c.case_id).where(tickets.c.state.in_(("claimed", "snoozed"))),
        select(bikes.c.case_id).where(bikes.c.done_at.is_(None)),
        select(loans.c.case_id).where(loans.c.case_id.is_not(None)),
    )
    old = select(cases.c.id).where(
        cases.c.id > (after or 0), cases.c.opened_at < before, *(cases.c.id.not_in(each) for each in in_use)
    )
    numbers = view.connection.scalars(old.order_by(cases.c.id).limit(AT_ONCE)).all()
    found = tuple((number, length) for number in numbers for at, length in [_touched(view, number)] if at < before)
    return found, numbers[-1] if len(numbers) == AT_ONCE else None


def _touched(view: View, number: int) -> tuple[datetime, int]:
    """When something was last said or done in a case, and the number of its events. What cannot be read counts for
    nothing: it is of no use to anybody."""
    opened = view.connection.execute(select(cases.c.opened_at).where(cases.c.id == number)).scalar_one()
    last = view.connection.execute(
        select(events.c.seq, events.c.body).where(events.c.case_id == number).order_by(events.c.seq.desc()).limit(1)
    ).first()
    done = view.connection.scalar(select(func.max(deeds.c.at)).where(deeds.c.case_id == number))
    moments = [opened] + ([done] if done is not None else [])
    if last is not None:
        with suppress(DecryptionError):
            moments.append(datetime.fromisoformat(view.cipher.decrypt_json(last.body)["at"]))
    return max(moments), 0 if last is None else last.seq + 1


def _remove_cases(tx: Transaction, numbers: tuple[Any, ...], before: datetime) -> int:
    count = 0
    for number, length in numbers:
        held = tx.connection.scalar(select(func.count()).where(events.c.case_id == number))
        lent = tx.connection.scalar(select(loans.c.id).where(loans.c.case_id == number).limit(1))
        if held == length and lent is None:
            count += _remove_case(tx, number)
    return count


def _remove_case(tx: Transaction, number: int) -> int:
    took_part = tx.connection.scalars(select(parties.c.person).where(parties.c.case_id == number)).all()
    count = tx.connection.execute(delete(cases).where(cases.c.id == number)).rowcount
    for person in took_part:
        elsewhere = select(parties.c.person).where(parties.c.person == person)
        member = select(staff.c.person).where(staff.c.person == person)
        waits = select(inbox.c.id).where(inbox.c.conversation == person, inbox.c.state != "done")
        if not any(tx.connection.scalar(each.limit(1)) is not None for each in (elsewhere, member, waits)):
            drop(tx, person)
    return count


# --- rows that are due by themselves ----------------------------------------------------------------------------------


def _rows(table: Table, due_before: Callable[[datetime], ColumnElement[bool]]) -> Kind:
    """Rows of a table that are due by themselves."""
    (key,) = table.primary_key.columns

    def find(view: View, before: datetime, after: Any) -> Page:
        going_on = () if after is None else (key > after,)
        found: Select[Any] = select(key).where(*going_on, due_before(before)).order_by(key).limit(AT_ONCE)
        numbers = tuple(view.connection.scalars(found))
        return numbers, numbers[-1] if len(numbers) == AT_ONCE else None

    def remove(tx: Transaction, numbers: tuple[Any, ...], before: datetime) -> int:
        return tx.connection.execute(delete(table).where(key.in_(numbers), due_before(before))).rowcount

    return Kind(find, remove)


def _visits(before: datetime) -> ColumnElement[bool]:
    past = or_(requests.c.until.is_(None), requests.c.until < before)
    day_past = or_(requests.c.day.is_(None), requests.c.day < before.date().isoformat())
    return and_(requests.c.asked_at < before, past, day_past)


def _receipts(before: datetime) -> ColumnElement[bool]:
    """The message that shows the open question stays."""
    over = outbox.c.state.in_(("sent", "failed"))
    return and_(outbox.c.made_at < before, over, outbox.c.id.not_in(_LIVE))


_LIVE = select(conversations.c.live).where(conversations.c.live.is_not(None))
_READ = select(positions.c.channel)


def _find_keys(view: View, before: datetime, after: Any) -> Page:
    """Messages that are done; those of people who are forgotten at once, where no channel can bring them again."""
    due_now = or_(
        (inbox.c.received_at < before) & (inbox.c.state == "done"),
        (inbox.c.conversation == NOBODY) & inbox.c.channel.not_in(_READ),
    )
    found = select(inbox.c.id).where(inbox.c.id > (after or 0), due_now).order_by(inbox.c.id).limit(AT_ONCE)
    numbers = tuple(view.connection.scalars(found))
    return numbers, numbers[-1] if len(numbers) == AT_ONCE else None


def _remove_keys(tx: Transaction, numbers: tuple[Any, ...], before: datetime) -> int:
    done = delete(inbox).where(inbox.c.id.in_(numbers), inbox.c.state == "done")
    return tx.connection.execute(done).rowcount


def _find_names(view: View, before: datetime, after: Any) -> Page:
    """Tools that are out, whose borrower has a name."""
    old = select(loans.c.id, loans.c.body).where(loans.c.since < before, loans.c.id > (after or 0))
    rows = view.connection.execute(old.order_by(loans.c.id).limit(AT_ONCE)).all()
    return tuple(row.id for row in rows if _name(view, row.body)), rows[-1].id if len(rows) == AT_ONCE else None


def _remove_names(tx: Transaction, numbers: tuple[Any, ...], before: datetime) -> int:
    count = 0
    for number in numbers:
        body = tx.connection.scalar(select(loans.c.body).where(loans.c.id == number))
        if body is not None and _name(tx, body):
            without = tx.cipher.encrypt_json({**tx.cipher.decrypt_json(body), "to": ""})
            tx.connection.execute(update(loans).where(loans.c.id == number).values(body=without))
            count += 1
    return count


def _name(view: View, body: str) -> str:
    try:
        return str(view.cipher.decrypt_json(body)["to"])
    except DecryptionError:
        return ""


#: In this order: what belongs to a case may go before it.
KINDS: Mapping[str, Kind] = {
    "photos": _rows(photos, lambda before: photos.c.sent_at < before),
    "visits": _rows(requests, _visits),
    "loans": Kind(_find_names, _remove_names),
    "links": _rows(grants, lambda before: or_(grants.c.until < before, grants.c.ended_at < before)),
    "receipts": _rows(outbox, _receipts),
    "digests": Kind(_find_keys, _remove_keys),
    "aside": _rows(inbox, lambda before: and_(inbox.c.received_at < before, inbox.c.state == "aside")),
    "cases": Kind(_find_cases, _remove_cases),
}
