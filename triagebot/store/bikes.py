"""Bikes that stand in the shop without their owners: which case each belongs to, whose it is, and when it is wanted.
Read and written inside one transaction.

Names and contacts are encrypted. They go with the case, or before it, when the bike's row is deleted.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Row, delete, insert, select, update

from triagebot.store.tables import bikes, cases
from triagebot.store.transactions import View

_ROWS = select(bikes, cases.c.code).join(cases, cases.c.id == bikes.c.case_id)


@dataclass(frozen=True, slots=True)
class Bike:
    """`what` it is called; `whose` it is and how that person is reached (`contact`), as far as that was said; `note`:
    what else was said; `wanted` when it is to be ready; `done` when its case was closed. `apart`: its case was opened
    for it, and is nobody's who writes."""

    case: int
    code: str
    what: str
    whose: str
    contact: str
    note: str
    apart: bool
    since: datetime
    wanted: datetime | None
    done: datetime | None = None


class Bikes:
    """The bikes, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def take_in(
        self, case: int, what: str, whose: str, contact: str, note: str, now: datetime, wanted: datetime | None,
        *, apart: bool,
    ) -> None:  # fmt: skip
        """A bike is here from now on; said again of the same case, it replaces what was said before."""
        body = {"what": what, "whose": whose, "contact": contact, "note": note, "apart": apart}
        row = {"since": now, "wanted": wanted, "done_at": None, "body": self.cipher.of_case(case).encrypt_json(body)}
        if self.connection.execute(update(bikes).where(bikes.c.case_id == case).values(**row)).rowcount == 0:
            self.connection.execute(insert(bikes), {"case_id": case, **row})

    def of(self, case: int) -> Bike | None:
        """The bike of a case."""
        row = self.connection.execute(_ROWS.where(bikes.c.case_id == case)).first()
        return None if row is None else self._bike(row)

    def here(self) -> tuple[Bike, ...]:
        """Those whose cases are open: the soonest wanted first, then the longest here."""
        rows = self.connection.execute(_ROWS.where(bikes.c.done_at.is_(None)).order_by(bikes.c.since))
        found = list(map(self._bike, rows))
        return tuple(sorted(found, key=lambda bike: (bike.wanted is None, bike.wanted or bike.since)))

    def all(self) -> tuple[Bike, ...]:
        """Every one that is or was here, the newest first."""
        rows = self.connection.execute(_ROWS.order_by(bikes.c.since.desc()))
        return tuple(map(self._bike, rows))

    def done(self, case: int, at: datetime | None) -> None:
        """The case of a bike was closed, or (None) is open again; nothing where it has no bike."""
        self.connection.execute(update(bikes).where(bikes.c.case_id == case).values(done_at=at))

    def forget(self, case: int) -> bool:
        """Deletes what is known of the bike and its owner; gives whether there was anything."""
        return self.connection.execute(delete(bikes).where(bikes.c.case_id == case)).rowcount == 1

    def _bike(self, row: Row[tuple[object, ...]]) -> Bike:
        body = self.cipher.decrypt_json(row.body)
        return Bike(
            row.case_id, row.code, body["what"], body["whose"], body["contact"], body["note"], body["apart"],
            row.since, row.wanted, row.done_at,
        )  # fmt: skip
