"""Who takes part in a case: the person whose it is, mentors, and those who were invited; read and written inside one
transaction.

What is kept of a part, encrypted: the name that a mentor gives the case, whether they put it away, until when somebody
who was invited may say yes, and what is open between a mentor's cases.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Row, delete, func, select, update

from triagebot.store.tables import cases, parties
from triagebot.store.transactions import Transaction

#: Whose case it is; who helps them from elsewhere; who was invited and has not said yes.
Role = Literal["person", "mentor", "invited"]


@dataclass(frozen=True, slots=True)
class Party:
    """Somebody's part in a case, by its number and code. `heard` is when a mentor was told what the rider wrote, while
    they were at another case and have not written since; `pending` is what they said that may be for the case
    `pending_for`, until they say."""

    case: int
    code: str
    person: str
    role: Role
    name: str = ""
    away: bool = False
    until: datetime | None = None
    heard: datetime | None = None
    pending: str = ""
    pending_for: int = 0


class Parties:
    """The parties, inside the transaction that is given."""

    def __init__(self, tx: Transaction) -> None:
        self.tx = tx
        self.connection = tx.connection
        self.cipher = tx.cipher

    def of(self, case: int, person: str) -> Party | None:
        """Somebody's part in a case."""
        return next((party for party in self.all_of(case) if party.person == person), None)

    def all_of(self, case: int) -> tuple[Party, ...]:
        """Everybody's part in a case."""
        found = _ALL.where(parties.c.case_id == case).order_by(parties.c.person)
        return tuple(self._party(row) for row in self.connection.execute(found))

    def parts(self, person: str) -> tuple[Party, ...]:
        """Every part that somebody has, the case that they were at last first."""
        found = _ALL.where(parties.c.person == person).order_by(parties.c.chosen.desc())
        return tuple(self._party(row) for row in self.connection.execute(found))

    def helped(self, person: str) -> tuple[Party, ...]:
        """The cases that somebody is a mentor in and has not put away, the one that they were at last first."""
        return tuple(party for party in self.parts(person) if party.role == "mentor" and not party.away)

    def join(self, party: Party) -> None:
        """Somebody takes part from now on, and is at this case."""
        self.tx.join(party.case, party.person, party.role, self.cipher.of_case(party.case).encrypt_json(_kept(party)))

    def change(self, party: Party) -> None:
        """Replaces the part that somebody has. A case that they put away becomes the last one that they are at, and
        they are at the one before again, if there is one."""
        which = (parties.c.case_id == party.case, parties.c.person == party.person)
        values: dict[str, Any] = {
            "role": party.role,
            "body": self.cipher.of_case(party.case).encrypt_json(_kept(party)),
        }
        if party.away:
            first = select(func.min(parties.c.chosen)).where(parties.c.person == party.person).scalar_subquery()
            values["chosen"] = first - 1
        self.connection.execute(update(parties).where(*which).values(**values))

    def leave(self, party: Party) -> None:
        """Somebody takes no part any more."""
        which = (parties.c.case_id == party.case, parties.c.person == party.person)
        self.connection.execute(delete(parties).where(*which))

    def drop(self, case: int) -> None:
        """Deletes a case that came to nothing."""
        self.connection.execute(delete(cases).where(cases.c.id == case))

    def _party(self, row: Row[Any]) -> Party:
        kept = self.cipher.decrypt_json(row.body) if row.body is not None else {}
        until, heard = kept.get("until"), kept.get("heard")
        return Party(
            case=row.case_id,
            code=row.code,
            person=row.person,
            role=row.role,
            name=kept.get("name", ""),
            away=kept.get("away", False),
            until=datetime.fromisoformat(until) if until else None,
            heard=datetime.fromisoformat(heard) if heard else None,
            pending=kept.get("pending", ""),
            pending_for=kept.get("pending_for", 0),
        )


_ALL = select(parties, cases.c.code).join(cases, cases.c.id == parties.c.case_id)


def _kept(party: Party) -> dict[str, Any]:
    return {
        "name": party.name,
        "away": party.away,
        "until": party.until.isoformat() if party.until is not None else None,
        **({"heard": party.heard.isoformat()} if party.heard is not None else {}),
        **({"pending": party.pending, "pending_for": party.pending_for} if party.pending else {}),
    }
