"""What is counted of each case, kept beside it (`cases.summaries` works it out).

A row whose `changed_at` is set is out of date: events came to the case since. A case is counted by its row alone where
that is not set, and by its events where it is.
"""

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Column, Row, Select, and_, bindparam, func, or_, select, update

from triagebot.store.database import Prepared
from triagebot.store.tables import cases, summaries
from triagebot.store.transactions import View

_PUT = Prepared(
    update(summaries)
    .where(summaries.c.case_id == bindparam("number"))
    .values(
        changed_at=None, touched_at=bindparam("touched"), outcome=bindparam("ended"), edition=bindparam("by"),
        closed_at=bindparam("closed"), fitted=bindparam("fits"), body=bindparam("runs"),
    )
)  # fmt: skip
#: Rows that are read at a time.
_AT_ONCE = 1000


@dataclass(frozen=True, slots=True)
class Summary:
    """How a case stands: when its person was last heard of, its outcome ("" for none), by which edition it was
    answered; when it was closed, and whether the remover `fitted`; its `runs`, as JSON."""

    touched: datetime
    outcome: str
    edition: str
    closed: datetime | None
    fitted: bool | None
    runs: str


@dataclass(frozen=True, slots=True)
class Kept:
    """A case whose summary is read: its number and code, whether the summary is `current`, and its runs as JSON, ""
    where it is not."""

    number: int
    code: str
    current: bool
    runs: str


class Summaries:
    """Inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._connection = view.connection

    def out_of_date(
        self, *, before: datetime | None = None, since: datetime | None = None, most: int | None = None
    ) -> list[int]:
        """Cases whose summary is out of date, the longest first: those that changed `before` then, or `since` then."""
        found = select(summaries.c.case_id).where(summaries.c.changed_at.is_not(None))
        found = found if before is None else found.where(summaries.c.changed_at <= before)
        found = found if since is None else found.where(summaries.c.changed_at >= since)
        return list(self._connection.scalars(found.order_by(summaries.c.changed_at).limit(most)))

    def put(self, case: int, summary: Summary | None) -> None:
        """Writes down what was worked out of a case as it stands in this transaction; None for one that cannot be
        read."""
        row = dict.fromkeys(("touched", "ended", "by", "closed", "fits", "runs"), None) | {"number": case}
        if summary is not None:
            row |= {
                "touched": summary.touched,
                "ended": summary.outcome,
                "by": summary.edition,
                "closed": summary.closed,
                "fits": None if summary.fitted is None else int(summary.fitted),
                "runs": self._view.cipher.of_case(case).encrypt_bytes(summary.runs.encode()),
            }
        _PUT.change(self._connection, row)

    def all_changed(self, at: datetime) -> int:
        """Everything is to be worked out anew; gives the number of cases."""
        return self._connection.execute(update(summaries).values(changed_at=at)).rowcount

    # Of the two days below only the day is asked for in SQL: asked for anything else as well, the database may go by
    # that, and read every case that there is.

    def begun(self, topic: str, since: datetime, until: datetime, without: Collection[str]) -> Counter[str]:
        """How the cases stand that were begun in this time, by outcome; those of some people are left out."""
        found = self._joined(summaries.c.outcome)
        found = found.where(cases.c.topic == topic, cases.c.opened_at >= since, cases.c.opened_at <= until)
        return Counter(row[0] for row in self._current(found, topic, without))

    def closings(self, topic: str, since: datetime, until: datetime, without: Collection[str]) -> Counter[bool | None]:
        """How many cases were closed in this time, by whether the remover fitted."""
        found = self._joined(summaries.c.fitted)
        found = found.where(summaries.c.closed_at >= since, summaries.c.closed_at <= until)
        rows = self._current(found, topic, without)
        return Counter(None if row[0] is None else bool(row[0]) for row in rows)

    def _joined(self, what: Column[Any]) -> Select[Any]:
        beside = (summaries.c.changed_at, cases.c.topic, cases.c.person, summaries.c.body.is_not(None).label("read"))
        return select(what, *beside).join_from(cases, summaries, cases.c.id == summaries.c.case_id)

    def _current(self, found: Select[Any], topic: str, without: Collection[str]) -> Iterator[Row[Any]]:
        for row in self._connection.execute(found):
            if row.changed_at is None and row.read and row.topic == topic and row.person not in without:
                yield row

    def answered_otherwise(self, topic: str, edition: str, begun: datetime, heard: datetime, most: int) -> list[int]:
        """Of the latest `most` cases `begun` since then, those that may have been answered by another edition, are not
        closed, and were `heard` of since then; the latest first."""
        latest = (
            select(cases.c.id, cases.c.opened_at)
            .where(cases.c.topic == topic, cases.c.opened_at >= begun)
            .order_by(cases.c.opened_at.desc(), cases.c.id.desc())
            .limit(most)
            .subquery()
        )
        old = and_(summaries.c.edition != edition, summaries.c.touched_at >= heard, summaries.c.closed_at.is_(None))
        found = select(latest.c.id).join(summaries, summaries.c.case_id == latest.c.id)
        found = found.where(or_(summaries.c.changed_at.is_not(None), summaries.c.body.is_(None), old))
        order = (latest.c.opened_at.desc(), latest.c.id.desc())
        return list(self._connection.scalars(found.order_by(*order)))

    def number_of(self, topic: str) -> int:
        """How many cases of a topic there are."""
        return int(self._connection.scalar(select(func.count()).where(cases.c.topic == topic)) or 0)

    def kept(self, topic: str, without: Collection[str], among: tuple[int, int] | None = None) -> Iterator[Kept]:
        """The summaries of every case of a topic, oldest first; only of those `among` these, by the first number and
        the last."""
        found = (
            select(cases.c.id, cases.c.code, summaries.c.changed_at, summaries.c.body)
            .join_from(cases, summaries, cases.c.id == summaries.c.case_id)
            .where(cases.c.topic == topic, cases.c.person.not_in(without))
            .order_by(cases.c.id)
        )
        found = found if among is None else found.where(cases.c.id.between(*among))
        decrypt = self._view.cipher.decrypt
        for row in self._connection.execution_options(yield_per=_AT_ONCE).execute(found):
            current = row.changed_at is None and row.body is not None
            yield Kept(row.id, row.code, current, decrypt(row.body) if current else "")
