"""Writing beside others: a transaction that is confined to the conversations that it holds.

Where several may write at once (`Database.side_by_side`), there are two ways to begin to write:

- *alone*: nobody else writes meanwhile. Whatever touches more than one conversation goes this way.
- *beside others*: nobody writes alone meanwhile. The transaction holds the locks of its conversations, and reads in
  later statements than those that lock, so it sees what their last holder committed.

Rules of this file, which decides what a transaction beside others may do:
- `OWN` are the tables in which transactions write beside each other. A statement on them says by which of its
  parameters it is confined (`Prepared(of=…)`), and each of these is a conversation that is held, or a case that only
  the holder takes part in. Any other statement on them is refused.
- All other tables are written alone, so they stand still meanwhile, and may be read.
- What is refused raises `NeedsAlone`: all is undone, and the job is taken again alone.
"""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from sqlalchemy import Connection, Table, bindparam, select
from sqlalchemy.sql import visitors
from sqlalchemy.sql.elements import ClauseElement
from sqlalchemy.sql.selectable import SelectBase

from triagebot.store.database import CONFINED, Prepared
from triagebot.store.encryption import Cipher
from triagebot.store.engines import Database
from triagebot.store.tables import cases, conversations, events, inbox, keys, outbox, parties, summaries
from triagebot.store.transactions import CURRENT_LENGTH, Store, Transaction

OWN: frozenset[Table] = frozenset((inbox, outbox, conversations, cases, events, parties, keys, summaries))

_others = parties.alias()
#: As `transactions._CURRENT`, and whether anybody else takes part in that case.
_CURRENT_OWN = Prepared(
    select(
        parties.c.case_id,
        CURRENT_LENGTH,
        select(_others.c.person)
        .where(_others.c.case_id == parties.c.case_id, _others.c.person != bindparam("who"))
        .limit(1)
        .scalar_subquery()
        .label("other"),
    )
    .where(parties.c.person == bindparam("who"))
    .order_by(parties.c.chosen.desc())
    .limit(1),
    of=("who",),
)


class NeedsAlone(BaseException):
    """A job touches more than its own conversation. It is no `Exception`: a turn that catches those must not go on."""


class Confined:
    """What a transaction may touch: `conversations` that it holds, by their hashes, and `cases` by their numbers."""

    def __init__(self, conversations: set[str], cases: Mapping[int, int]) -> None:
        self._conversations = conversations
        self._cases = cases

    def holds(self, owner: object) -> bool:
        return owner in self._conversations or owner in self._cases

    def check(self, statement: ClauseElement, of: Iterable[object] = ()) -> None:
        """Raises NeedsAlone for a statement that is neither confined to what is held (`of`) nor reads what stands
        still."""
        owners = [owner for owner in of if owner is not None]
        if owners and all(map(self.holds, owners)):
            return
        if owners or not isinstance(statement, SelectBase) or not OWN.isdisjoint(tables_of(statement)):
            raise NeedsAlone


def tables_of(statement: ClauseElement) -> set[Table]:
    """The tables that a statement reads, those within its subqueries among them."""
    return {part for part in visitors.iterate(statement) if isinstance(part, Table)}


class Beside(Transaction):
    """A transaction beside others. Until `hold` is called it may touch no conversation."""

    def __init__(self, database: Database, connection: Connection, place: Path | str, cipher: Cipher) -> None:
        self._held: set[str] = set()
        super().__init__(connection, place, cipher)
        self._database = database
        connection.execution_options(**{CONFINED: Confined(self._held, self._lengths)})

    def hold(self, conversation: str, *, wait: bool) -> bool:
        """Locks a conversation until the end of the transaction; gives whether it is held now. A transaction waits only
        for the first one that it holds: two that waited for each other's would never end."""
        if conversation not in self._held:
            assert not (wait and self._held), "it would wait while others wait for it"
            if not self._database.hold(self.connection, conversation, wait=wait):
                return False
            self._held.add(conversation)
        return True

    def current_version(self, person: str) -> tuple[int, int] | None:
        row = _CURRENT_OWN.first(self.connection, {"who": person})
        if row is None:
            return None
        if row.other is not None:
            raise NeedsAlone
        self._lengths[row[0]] = row[1]
        return (row[0], row[1])


@contextmanager
def begin_beside(store: Store) -> Iterator[Beside]:
    """As `Store.begin`, beside others."""
    with store.begin(partial(Beside, store.database)) as tx:
        assert isinstance(tx, Beside)
        yield tx
