"""Which of several processes does what only one may do at a time, and until when; inside one transaction.

Rules of this file:
- a lease is taken, renewed and given up by a transaction that writes alone: so a process that reads in a later
  transaction that writes that it holds one, holds it until that is committed;
- each time that a lease is taken its number grows by one, so who held it before can be told from who holds it now;
- time is told by the database's clock, which is the same for all.
"""

from datetime import datetime, timedelta

from sqlalchemy import bindparam, delete, insert, select, update

from triagebot.store.database import Prepared
from triagebot.store.engines import Database
from triagebot.store.tables import leases
from triagebot.store.transactions import View

#: How long a lease lasts after it was renewed: longer than the server lets a stopped transaction keep others waiting.
LASTS = timedelta(seconds=8)

_HELD = Prepared(select(leases).where(leases.c.name == bindparam("name")))


class Leases:
    """The leases of a database, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View, database: Database) -> None:
        self._connection = tx.connection
        self._database = database

    def take(self, name: str, holder: str) -> int | None:
        """Takes a lease that nobody else holds; gives its number, None where somebody else does."""
        now, row = self._now(), _HELD.first(self._connection, {"name": name})
        given = {"holder": holder, "until": now + LASTS}
        if row is None:
            self._connection.execute(insert(leases), {"name": name, "number": 1, **given})
            return 1
        if row.holder != holder and row.until > now:
            return None
        number = int(row.number) + 1
        self._connection.execute(update(leases).where(leases.c.name == name).values(number=number, **given))
        return number

    def renew(self, name: str, number: int) -> bool:
        """It lasts on from now; gives whether it was still this one."""
        which = update(leases).where(leases.c.name == name, leases.c.number == number)
        return self._connection.execute(which.values(until=self._now() + LASTS)).rowcount == 1

    def give_up(self, name: str, number: int) -> None:
        """Anybody may take it from now on."""
        which = update(leases).where(leases.c.name == name, leases.c.number == number)
        self._connection.execute(which.values(until=self._now()))

    def holds(self, name: str, number: int) -> bool:
        """Whether the lease of that number is in force."""
        row = _HELD.first(self._connection, {"name": name})
        return row is not None and row.number == number and row.until > self._now()

    def of_others(self, holder: str) -> frozenset[str]:
        """What somebody else took last, whether they hold it still or not."""
        return frozenset(self._connection.scalars(select(leases.c.name).where(leases.c.holder != holder)))

    def beginning(self, start: str) -> int:
        """How many that begin so are in force; what has been over for a while goes."""
        now = self._now()
        self._connection.execute(
            delete(leases).where(leases.c.name.startswith(start), leases.c.until < now - 100 * LASTS)
        )
        found = select(leases.c.until).where(leases.c.name.startswith(start))
        return sum(until > now for until in self._connection.scalars(found))

    def _now(self) -> datetime:
        return self._database.now(self._connection)
