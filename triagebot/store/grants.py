"""What a secret lets somebody do, for as long as it counts; read and written inside one transaction.

Decided here and nowhere else:
- a secret is drawn by the system at random, `BYTES` bytes of it, and given out once: only its lookup hash is kept, so
  that nobody reads it in the database and nobody can be told it again;
- a secret of another kind, one that is over, one that was ended and one that never was are all the same to the person
  who brings it: one query finds none of them, and nothing here says which it was;
- what a grant is about is encrypted; it is deleted with its case.
"""

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import ColumnElement, Row, and_, bindparam, delete, func, insert, select, update

from triagebot.store.database import Prepared
from triagebot.store.encryption import Cipher
from triagebot.store.tables import grants
from triagebot.store.transactions import View

#: What a secret lets somebody do: look at a case's card, or fetch its visit as a file; join one who helps; go on with a
#: case on another channel; take a case over; become one of the staff; log in at the counter page, or be there.
Kind = Literal["card", "invite", "join", "hand-over", "staff", "login", "session", "visit", "export"]

#: 192 bits, 32 characters in an address.
BYTES = 24
#: A longer text is no secret of ours, and is not looked up.
_LONGEST = 200

#: The one way in which a grant is found: all that can be wrong with it is asked in one go.
_COUNTS: ColumnElement[bool] = and_(
    grants.c.secret == bindparam("secret_hash"),
    grants.c.kind == bindparam("sort"),
    grants.c.until > bindparam("now", type_=grants.c.until.type),
    grants.c.ended_at.is_(None),
)
_ISSUE = Prepared(insert(grants), [column.name for column in grants.c], of=("case_id",))
_FIND = select(grants).where(_COUNTS)


@dataclass(frozen=True, slots=True)
class Grant:
    """What somebody is granted who knows its secret. `case_id` is None where it is about no case."""

    kind: Kind
    case_id: int | None
    body: Mapping[str, Any]
    made_at: datetime
    until: datetime


class Grants:
    """The grants, inside the transaction (or, for `find` only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def issue(
        self,
        kind: Kind,
        case_id: int | None,
        body: Mapping[str, Any],
        now: datetime,
        until: datetime,
        fresh: Callable[[], str] = lambda: secrets.token_urlsafe(BYTES),
    ) -> str:
        """A new secret (letters, digits, - and _), which counts until a moment. It is kept nowhere. `fresh` draws one
        of another form, for people to type."""
        secret = fresh()
        row = {
            "secret": _hash(self.cipher, kind, secret),
            "kind": kind,
            "case_id": case_id,
            "body": (self.cipher if case_id is None else self.cipher.of_case(case_id)).encrypt_json(body),
            "made_at": now,
            "until": until,
            "ended_at": None,
        }
        _ISSUE.change(self.connection, row)
        return secret

    def find(self, kind: Kind, secret: str, now: datetime) -> Grant | None:
        """What this secret grants now; None if nothing, for whatever reason."""
        return self._grant(self.connection.execute(_FIND, self._given(kind, secret, now)).first())

    def about(self, kind: Kind, case_id: int, now: datetime) -> tuple[Grant, ...]:
        """Every grant of a kind about a case that counts now, oldest first."""
        which = and_(grants.c.case_id == case_id, grants.c.kind == kind, grants.c.until > now)
        found = select(grants).where(which, grants.c.ended_at.is_(None)).order_by(grants.c.made_at)
        return tuple(grant for row in self.connection.execute(found) if (grant := self._grant(row)) is not None)

    def count(self, kind: Kind, case_id: int, since: datetime) -> int:
        """How many of a kind were issued about a case since a moment, whatever became of them."""
        which = and_(grants.c.case_id == case_id, grants.c.kind == kind, grants.c.made_at > since)
        return int(self.connection.scalar(select(func.count()).select_from(grants).where(which)) or 0)

    def take(self, kind: Kind, secret: str, now: datetime) -> Grant | None:
        """As `find`, and the next one to bring it finds nothing: of many who bring it at once, one is given it."""
        ending = update(grants).where(_COUNTS).values(ended_at=now).returning(grants)
        return self._grant(self.connection.execute(ending, self._given(kind, secret, now)).first())

    def end(self, kind: Kind, secret: str, now: datetime) -> bool:
        """Ends what this secret grants; gives whether it still counted."""
        ending = update(grants).where(_COUNTS).values(ended_at=now)
        return self.connection.execute(ending, self._given(kind, secret, now)).rowcount == 1

    def end_all(self, kind: Kind, case_id: int, now: datetime) -> int:
        """Ends every grant of a kind about a case; gives how many still counted."""
        which = and_(grants.c.case_id == case_id, grants.c.kind == kind, grants.c.until > now)
        ending = update(grants).where(which, grants.c.ended_at.is_(None)).values(ended_at=now)
        return self.connection.execute(ending).rowcount

    def end_of(self, kind: Kind, name: str, value: str) -> None:
        """Deletes every grant of a kind whose body says this."""
        found = self.connection.execute(select(grants.c.secret, grants.c.body).where(grants.c.kind == kind)).all()
        theirs = [row.secret for row in found if self.cipher.decrypt_json(row.body).get(name) == value]
        self.connection.execute(delete(grants).where(grants.c.secret.in_(theirs)))

    def _given(self, kind: Kind, secret: str, now: datetime) -> dict[str, Any]:
        return {"secret_hash": _hash(self.cipher, kind, secret[:_LONGEST]), "sort": kind, "now": now}

    def _grant(self, row: Row[Any] | None) -> Grant | None:
        if row is None:
            return None
        return Grant(row.kind, row.case_id, self.cipher.decrypt_json(row.body), row.made_at, row.until)


def _hash(cipher: Cipher, kind: Kind, secret: str) -> str:
    return cipher.lookup_hash("grant", kind, secret)
