"""Who takes part in a case besides the person whose it is: helpers, and those who were asked whether they want to; read
and written inside one transaction.

Decided here and nowhere else: what is kept of a part, closed: the name that a helper gives the case, whether they put
it away, and until when somebody who was asked may say yes.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Row, delete, func, select, update

from triagebot.store.cases import Transaction
from triagebot.store.tables import cases, parties
from triagebot.store.writing import decrypted_json, encrypted_json

#: Whose case it is; who helps them from elsewhere; who was asked to take part and has not said yes.
Role = Literal["person", "mentor", "invited"]


@dataclass(frozen=True, slots=True)
class Party:
    """Somebody's part in a case, by its number and code."""

    case: int
    code: str
    mark: str
    role: Role
    name: str = ""
    away: bool = False
    until: datetime | None = None


class Parties:
    """The parties, inside the transaction that is given."""

    def __init__(self, tx: Transaction) -> None:
        self.tx = tx
        self.connection = tx.connection
        self.cipher = tx.cipher

    def of(self, case: int, mark: str) -> Party | None:
        """Somebody's part in a case."""
        return next((party for party in self.all_of(case) if party.mark == mark), None)

    def all_of(self, case: int) -> tuple[Party, ...]:
        """Everybody's part in a case."""
        found = _ALL.where(parties.c.case_id == case).order_by(parties.c.person)
        return tuple(self._party(row) for row in self.connection.execute(found))

    def parts(self, mark: str) -> tuple[Party, ...]:
        """Every part of somebody's, the case that they were at last first."""
        found = _ALL.where(parties.c.person == mark).order_by(parties.c.chosen.desc())
        return tuple(self._party(row) for row in self.connection.execute(found))

    def helped(self, mark: str) -> tuple[Party, ...]:
        """The cases that somebody helps with and has not put away, the one that they were at last first."""
        return tuple(party for party in self.parts(mark) if party.role == "mentor" and not party.away)

    def join(self, party: Party) -> None:
        """Somebody takes part from now on, and is at this case."""
        self.tx.join(party.case, party.mark, party.role, encrypted_json(self.cipher, _kept(party)))

    def change(self, party: Party) -> None:
        """The part that somebody has already is this from now on. A case that is put away is the last that they are
        at: they are at the one before again, if there is one."""
        which = (parties.c.case_id == party.case, parties.c.person == party.mark)
        values: dict[str, Any] = {"role": party.role, "body": encrypted_json(self.cipher, _kept(party))}
        if party.away:
            first = select(func.min(parties.c.chosen)).where(parties.c.person == party.mark).scalar_subquery()
            values["chosen"] = first - 1
        self.connection.execute(update(parties).where(*which).values(**values))

    def leave(self, party: Party) -> None:
        """Somebody takes no part any more."""
        which = (parties.c.case_id == party.case, parties.c.person == party.mark)
        self.connection.execute(delete(parties).where(*which))

    def drop(self, case: int) -> None:
        """Deletes a case of which nothing has come."""
        self.connection.execute(delete(cases).where(cases.c.id == case))

    def _party(self, row: Row[Any]) -> Party:
        kept = decrypted_json(self.cipher, row.body) if row.body is not None else {}
        until = kept.get("until")
        return Party(
            case=row.case_id,
            code=row.code,
            mark=row.person,
            role=row.role,
            name=kept.get("name", ""),
            away=kept.get("away", False),
            until=datetime.fromisoformat(until) if until else None,
        )


_ALL = select(parties, cases.c.code).join(cases, cases.c.id == parties.c.case_id)


def _kept(party: Party) -> dict[str, Any]:
    return {
        "name": party.name,
        "away": party.away,
        "until": party.until.isoformat() if party.until is not None else None,
    }
