"""Cases and their events, read and written inside one transaction.

Events are append-only. Each append says which number it begins with, so that two processes which both read a case
and both answered it cannot write over each other: the later one gets a `StoreConflict`. What it meant to write no
longer fits what is there, so it leaves the transaction and begins anew.

SQLite has one writer at a time, so looking before writing is enough there; the constraints are for databases where
two transactions can pass that look side by side. (No savepoints: SQLite gives them up when the disk is full, and that
would hide the reason.)
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Integer,
    Select,
    Text,
    and_,
    bindparam,
    delete,
    func,
    insert,
    or_,
    select,
)
from sqlalchemy.exc import IntegrityError

from triagebot.store.encryption import Cipher
from triagebot.store.errors import DAMAGED, StoreConflict, fault
from triagebot.store.inserting import insert_into
from triagebot.store.prepared_statements import Prepared
from triagebot.store.stored import StoredCase
from triagebot.store.tables import cases, events, parties
from triagebot.store.writing import Characters, event_of, event_text

_STANDING = Prepared(
    select(parties.c.case_id, select(func.count()).where(events.c.case_id == parties.c.case_id).scalar_subquery())
    .where(parties.c.person == bindparam("mark"))
    .order_by(parties.c.chosen.desc())
    .limit(1)
)
_CASE = Prepared(select(cases).where(cases.c.id == bindparam("number")))
_EVENTS = Prepared(
    select(events.c.seq, events.c.body).where(events.c.case_id == bindparam("number")).order_by(events.c.seq)
)
_APPEND = Prepared(insert(events), ("case_id", "seq", "body"))
#: None for a case that is not there.
_LENGTH = select(select(func.count()).where(events.c.case_id == cases.c.id).scalar_subquery()).where(
    cases.c.id == bindparam("number")
)
_CHOICE = select(
    bindparam("number", type_=Integer),
    bindparam("mark", type_=Characters),
    bindparam("as", type_=Characters),
    func.coalesce(func.max(parties.c.chosen), 0) + 1,
    bindparam("about", type_=Text),
).where(parties.c.person == bindparam("mark", type_=Characters))


@cache
def _opening(dialect: str) -> Prepared:
    """The number of a new case; nothing when its code is in use."""
    new = insert_into(cases, dialect).on_conflict_do_nothing(index_elements=["code"]).returning(cases.c.id)
    return Prepared(new, ("person", "code", "topic", "opened_at"))


@cache
def _joining(dialect: str) -> Prepared:
    """Takes part now, or chooses again."""
    new = insert_into(parties, dialect).from_select(["case_id", "person", "role", "chosen", "body"], _CHOICE)
    chosen = {"chosen": new.excluded.chosen}
    return Prepared(new.on_conflict_do_update(index_elements=["case_id", "person"], set_=chosen))


def goes_with(mark: str) -> Select[int]:
    """The numbers of the cases that go with somebody: their own, and those that they opened for somebody else who takes
    no part themselves."""
    theirs = select(parties.c.case_id).where(parties.c.role == "person")
    alone = and_(parties.c.role == "mentor", parties.c.case_id.not_in(theirs))
    return select(parties.c.case_id).where(parties.c.person == mark, or_(parties.c.role == "person", alone))


def mark_of(cipher: Cipher, person: str) -> str:
    """What a person is stored and looked up by.

    Raises ValueError unless `person` names its channel (`terminal:me`): the same name on two channels is two people.
    """
    channel, colon, _ = person.partition(":")
    if not (channel and colon):
        raise ValueError(f"a person is named with the channel, as in 'terminal:me', not {person!r}")
    return cipher.lookup_hash("person", person)


class View:
    """What can be read, all of it as it stood at one moment. `connection` is for other tables than the cases'.

    `forgot` once something was deleted for good, so that older copies of it must go, too.
    """

    forgot = False

    def __init__(self, connection: Connection, place: Path, cipher: Cipher) -> None:
        self.connection = connection
        self.cipher = cipher
        self._place = place

    def lookup_hash(self, person: str) -> str:
        """What a person is looked up by (see `mark_of`)."""
        return mark_of(self.cipher, person)

    def standing(self, mark: str) -> tuple[int, int] | None:
        """The number of the current case of whom this mark stands for, and how many events it has.

        Events are only ever added, and numbers never used again: as long as both are the same, so is the case.
        """
        row = _STANDING.first(self.connection, {"mark": mark})
        return None if row is None else (row[0], row[1])

    def current_case(self, person: str) -> StoredCase | None:
        """The case that this person is at, ended or not."""
        standing = self.standing(self.lookup_hash(person))
        return None if standing is None else self.case(standing[0])

    def case_by_code(self, code: str) -> StoredCase | None:
        """The case with exactly this code."""
        return next(iter(self._cases(cases.c.code == code)), None)

    def cases(self, person: str) -> tuple[StoredCase, ...]:
        """Every case that this person takes part in, oldest first."""
        known = select(parties.c.case_id).where(parties.c.person == self.lookup_hash(person))
        return self._cases(cases.c.id.in_(known))

    def parties(self, case_id: int) -> dict[str, str]:
        """Who takes part in a case, by mark, and as what."""
        found = select(parties.c.person, parties.c.role).where(parties.c.case_id == case_id)
        return {row.person: row.role for row in self.connection.execute(found)}

    def case(self, number: int) -> StoredCase | None:
        """The case with this number."""
        row = _CASE.first(self.connection, {"number": number})
        return None if row is None else self._case(row)

    def of_topic(self, topic: str, since: datetime | None = None) -> Iterator[StoredCase]:
        """Every case of a topic, oldest first, one at a time: there may be more than memory should hold. With `since`,
        only those that were begun then or later."""
        numbers = select(cases.c.id).where(cases.c.topic == topic).order_by(cases.c.id)
        numbers = numbers if since is None else numbers.where(cases.c.opened_at >= since)
        for number in self.connection.scalars(numbers).all():
            yield from self._cases(cases.c.id == number)

    def latest(self, topic: str, since: datetime, most: int) -> Iterator[StoredCase]:
        """Cases of a topic that were begun `since` then, the latest first, one at a time, `most` of them at most."""
        numbers = select(cases.c.id).where(cases.c.topic == topic, cases.c.opened_at >= since)
        for number in self.connection.scalars(numbers.order_by(cases.c.id.desc()).limit(most)).all():
            yield from self._cases(cases.c.id == number)

    def _cases(self, which: ColumnElement[bool]) -> tuple[StoredCase, ...]:
        rows = self.connection.execute(select(cases).where(which).order_by(cases.c.id)).all()
        return tuple(self._case(row) for row in rows)

    def _case(self, row: Any) -> StoredCase:
        read = []
        for count, (seq, body) in enumerate(_EVENTS.all(self.connection, {"number": row.id})):
            try:
                event = event_of(self.cipher.decrypt(body))
            except ValueError as error:
                raise fault(
                    self._place, f"event {seq} of case {row.code} cannot be read ({error}): {DAMAGED}"
                ) from error
            if seq != count:
                raise fault(self._place, f"event {count} of case {row.code} is missing: {DAMAGED}")
            read.append(event)
        return StoredCase(row.id, row.person, row.code, row.topic, row.opened_at, tuple(read))


class Transaction(View):
    """What can be read and written; what one transaction writes becomes visible together or not at all.

    What is in `after_commit` is called once everything is on the disk, and never when it is not.
    """

    def __init__(self, connection: Connection, place: Path, cipher: Cipher) -> None:
        super().__init__(connection, place, cipher)
        self.after_commit: list[Callable[[], object]] = []
        #: How many events cases have that were looked at: nobody else writes meanwhile, or the constraints object.
        self._lengths: dict[int, int] = {}

    def standing(self, mark: str) -> tuple[int, int] | None:
        found = super().standing(mark)
        if found is not None:
            self._lengths[found[0]] = found[1]
        return found

    def open_case(
        self, person: str, code: str, topic: str, at: datetime, role: str = "person", about: str | None = None
    ) -> int:
        """A new case without events, of which somebody is a party (see `join`); gives its number. Raises StoreConflict
        when the code is in use already."""
        mark = mark_of(self.cipher, person)
        row = {"person": mark, "code": code, "topic": topic, "opened_at": at}
        number: int | None = _opening(self.connection.dialect.name).value(self.connection, row)
        if number is None:
            raise self._taken(code)
        self._lengths[number] = 0
        self.join(number, mark, role, about)
        return number

    def join(self, case_id: int, mark: str, role: str, about: str | None = None) -> None:
        """Somebody takes part in a case from now on, which becomes their current one; who does already, chooses it, as
        what they are there. `about` is what is kept of their part, closed."""
        row = {"number": case_id, "mark": mark, "as": role, "about": about}
        _joining(self.connection.dialect.name).change(self.connection, row)

    def append(self, case_id: int, first_seq: int, more: Sequence[Mapping[str, Any]]) -> None:
        """Adds events to a case that held `first_seq` of them when the caller read it.

        Raises StoreConflict when it holds another number now, or was forgotten; ValueError for what is no event.
        """
        rows = [
            {"case_id": case_id, "seq": seq, "body": self.cipher.encrypt(event_text(event))}
            for seq, event in enumerate(more, first_seq)
        ]
        held = self._lengths.get(case_id)
        if held is None:
            held = self.connection.scalar(_LENGTH, {"number": case_id})
        if held is None:
            raise StoreConflict(f"{self._place}: case number {case_id} was forgotten meanwhile; begin a new one")
        if held != first_seq:
            raise self._overtaken(case_id)
        if not rows:
            return
        try:
            _APPEND.change_all(self.connection, rows)
        except (IntegrityError, sqlite3.IntegrityError) as error:
            raise self._overtaken(case_id) from error
        self._lengths[case_id] = first_seq + len(rows)

    def forget(self, person: str) -> int:
        """Deletes every case of this person's own with its events and photos; gives the number of cases. Where they
        only helped, they take no part any more."""
        self.forgot = True
        self._lengths.clear()
        mark = self.lookup_hash(person)
        deleted = self.connection.execute(delete(cases).where(cases.c.id.in_(goes_with(mark)))).rowcount
        self.connection.execute(delete(parties).where(parties.c.person == mark))
        return deleted

    def _taken(self, code: str) -> StoreConflict:
        return StoreConflict(f"{self._place}: the case code {code} is in use; choose another one")

    def _overtaken(self, case_id: int) -> StoreConflict:
        return StoreConflict(
            f"{self._place}: case number {case_id} was continued elsewhere meanwhile; "
            "read it again and take the turn again"
        )
