"""What was counted of many cases together, kept so that a report need not read each of them (`study.totals` counts).

Rules of this file:
- cases stand in blocks by their numbers, `BLOCK` in each;
- what is kept of a block is good as long as its mark is the block's. The mark is made of the summaries of its cases,
  and of what they were judged by: it changes when a case changes, comes or goes. So no turn has to do anything here;
- what is kept are numbers, and no word of anybody; it is encrypted with the key file's key, and goes when somebody in
  the block is forgotten (`person_keys.throw_away`).
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import groupby
from typing import Any

from sqlalchemy import Row, Select, bindparam, delete, func, select

from triagebot.store.database import Prepared
from triagebot.store.encryption import DecryptionError
from triagebot.store.tables import BLOCK, cases, summaries, totals
from triagebot.store.transactions import Transaction, View

_AT_ONCE = 1000
#: A summary that is put down again ends otherwise: it is encrypted anew.
_END = func.substr(summaries.c.body, func.length(summaries.c.body) - 15)
_KEPT = Prepared(
    select(totals.c.mark, totals.c.body).where(totals.c.topic == bindparam("of"), totals.c.block == bindparam("number"))
)


@dataclass(frozen=True, slots=True)
class Block:
    """Some cases of a topic, by their numbers. `whole`: none of them has changed since its summary was put down."""

    number: int
    cases: tuple[int, ...]
    mark: str
    whole: bool


class Totals:
    """Of one topic, inside the view that is given; some people are left out. `by` names what cases are judged by."""

    def __init__(self, view: View, topic: str, without: Collection[str], by: str) -> None:
        self._view, self._topic, self._without, self._by = view, topic, tuple(without), by

    def blocks(self) -> Iterator[Block]:
        """Every block that has a case in it, oldest first."""
        found = _rows_of(self._topic, self._without)
        rows = self._view.connection.execution_options(yield_per=_AT_ONCE).execute(found)
        for number, some in groupby(rows, lambda row: row.id // BLOCK):
            yield self._block(number, list(some))

    def _block(self, number: int, rows: Sequence[Row[Any]]) -> Block:
        read = "\n".join((self._by, *(f"{row.id} {row.ending}" for row in rows)))
        whole = all(row.changed_at is None and row.ending is not None for row in rows)
        return Block(number, tuple(row.id for row in rows), sha256(read.encode()).hexdigest(), whole)

    def kept(self, block: Block) -> Mapping[str, Any] | None:
        """What was counted of the block as it stands; None if nothing was."""
        row = _KEPT.first(self._view.connection, {"of": self._topic, "number": block.number})
        if row is None or row.mark != block.mark or not block.whole:
            return None
        try:
            return self._view.cipher.decrypt_json(row.body)
        except DecryptionError:  # counted again
            return None

    def emptied(self) -> tuple[int, ...]:
        """Blocks of which something is kept and that have no case any more, as the oldest have after their time."""
        oldest = self._view.connection.scalar(select(func.min(cases.c.id)).where(cases.c.topic == self._topic))
        found = select(totals.c.block).where(totals.c.topic == self._topic)
        found = found if oldest is None else found.where(totals.c.block < oldest // BLOCK)
        return tuple(self._view.connection.scalars(found))


def _rows_of(topic: str, without: tuple[str, ...]) -> Select[Any]:
    beside = (summaries.c.changed_at, _END.label("ending"))
    found = select(cases.c.id, *beside).join_from(cases, summaries, cases.c.id == summaries.c.case_id)
    return found.where(cases.c.topic == topic, cases.c.person.not_in(without)).order_by(cases.c.id)


def keep(
    tx: Transaction, topic: str, counted: Sequence[tuple[Block, Mapping[str, Any]]], emptied: Sequence[int] = ()
) -> None:
    """Puts down what was counted of some blocks, and takes away what is kept of those that were `emptied`. A block that
    has changed meanwhile is not taken for the one that was counted."""
    numbers = [*emptied, *(block.number for block, _ in counted)]
    tx.connection.execute(delete(totals).where(totals.c.topic == topic, totals.c.block.in_(numbers)))
    rows = [
        {"topic": topic, "block": block.number, "mark": block.mark, "body": tx.cipher.encrypt_json(found)}
        for block, found in counted
    ]
    if rows:
        tx.connection.execute(totals.insert(), rows)
