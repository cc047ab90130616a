"""Who helps at the shop, and who did what; read and written inside one transaction.

Decided here and nowhere else:
- whoever left is nobody any more: only a row without an end gives a role;
- names are told apart as people would (`fold`), and no two at work have the same;
- deeds are only ever added: nothing here changes or deletes one; those of a case go with it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import count
from typing import Any, Literal

from sqlalchemy import bindparam, insert, select, update

from triagebot.shop import fold
from triagebot.store.cases import View
from triagebot.store.prepared_statements import Prepared
from triagebot.store.tables import deeds, staff
from triagebot.store.writing import decrypted_json, encrypted_json

Role = Literal["staff", "owner"]

#: Asked at every message.
_AT_WORK = Prepared(select(staff).where(staff.c.person == bindparam("mark"), staff.c.ended_at.is_(None)))


@dataclass(frozen=True, slots=True)
class Member:
    """One of the staff. `standing` is what is remembered of what they are doing, as a JSON object."""

    mark: str
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

    def member(self, mark: str) -> Member | None:
        """Whom this mark stands for, if they are one of the staff now."""
        row = _AT_WORK.first(self.connection, {"mark": mark})
        return None if row is None else self._member(row)

    def members(self) -> tuple[Member, ...]:
        """Everybody who is one of the staff now, longest first."""
        rows = self.connection.execute(select(staff).where(staff.c.ended_at.is_(None)).order_by(staff.c.since))
        return tuple(self._member(row) for row in rows)

    def named(self, name: str) -> Member | None:
        """The member with this name, however it is spelt."""
        return next((member for member in self.members() if fold(member.name) == fold(name)), None)

    def admit(self, mark: str, role: Role, name: str, now: datetime) -> Member:
        """Makes somebody one of the staff; who is already keeps the higher role. A name that another one has gets a
        number."""
        before = self.member(mark)
        taken = {fold(member.name) for member in self.members() if member.mark != mark}
        tried = (name if number == 1 else f"{name} {number}" for number in count(1))
        name = next(each for each in tried if fold(each) not in taken)
        if before is not None and before.role == "owner":
            role = "owner"
        row = {"role": role, "body": encrypted_json(self.cipher, {"name": name}), "since": now, "ended_at": None}
        if self.connection.execute(update(staff).where(staff.c.person == mark).values(**row)).rowcount == 0:
            self.connection.execute(insert(staff), {"person": mark, **row})
        return Member(mark, role, name, now)

    def remove(self, mark: str, now: datetime) -> bool:
        """From now on somebody is none of the staff; gives whether they were."""
        ending = update(staff).where(staff.c.person == mark, staff.c.ended_at.is_(None)).values(ended_at=now)
        return self.connection.execute(ending).rowcount == 1

    def stand(self, member: Member, standing: Mapping[str, Any]) -> None:
        """Remembers what a member is doing."""
        closed = encrypted_json(self.cipher, {"name": member.name, "standing": dict(standing)})
        self.connection.execute(update(staff).where(staff.c.person == member.mark).values(body=closed))

    # --- who did what -------------------------------------------------------------------------------------------

    def did(self, who: Member, what: str, at: datetime, case_id: int | None = None, **told: Any) -> None:
        """Writes down that a member did something, to a case or to none."""
        row = {
            "case_id": case_id,
            "person": who.mark,
            "what": what,
            "at": at,
            "body": encrypted_json(self.cipher, {"name": who.name, "told": told}),
        }
        self.connection.execute(insert(deeds), row)

    def deeds(self, case_id: int) -> tuple[Deed, ...]:
        """What was done to a case, oldest first."""
        rows = self.connection.execute(select(deeds).where(deeds.c.case_id == case_id).order_by(deeds.c.id))
        found = ((row, decrypted_json(self.cipher, row.body)) for row in rows)
        return tuple(Deed(body["name"], row.what, row.at, body["told"]) for row, body in found)

    def _member(self, row: Any) -> Member:
        body = decrypted_json(self.cipher, row.body)
        return Member(row.person, row.role, body["name"], row.since, body.get("standing", {}))
