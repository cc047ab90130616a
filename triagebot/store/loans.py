"""Tools that do not hang where they should: lent out, and to whom, since when and until when; or lost, broken or sold.
Read and written inside one transaction. What hangs there but is kept for somebody by word of the staff is a row here,
too, until that time is over; what a customer asked for in the chat is a request (`requests`).

A loan that belongs to a case has no name beside it, so that nothing of a person stays once the case is forgotten; a
loan is deleted when the tool comes home.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Row, bindparam, delete, func, insert, or_, select, union_all, update

from triagebot.store.database import Instant, Prepared
from triagebot.store.tables import cases, loans, requests
from triagebot.store.transactions import View

_OUT = select(loans, cases.c.code).join(cases, cases.c.id == loans.c.case_id, isouter=True)
_KEPT = select(requests.c.tool).where(
    requests.c.kind == "hold",
    or_(requests.c.state == "asked", requests.c.state == "yes"),
    requests.c.until > bindparam("now", type_=Instant),
    requests.c.case_id != bindparam("but"),
)
_GONE = select(loans.c.tool).where(or_(loans.c.kept.is_(None), loans.c.kept > bindparam("now", type_=Instant)))
_NOT_THERE = union_all(_GONE, _KEPT).subquery()
#: Asked at every message.
_AWAY = Prepared(select(_NOT_THERE.c.tool, func.count().label("away")).group_by(_NOT_THERE.c.tool))


@dataclass(frozen=True, slots=True)
class Loan:
    """`tool` is the topic's word for it; `to` who has it, or the `code` of that person's case, or neither once they
    were forgotten; `by` who gave it out; `due` when it ought to be back. `why` it is gone: "" for one that was lent,
    "kept" for one that hangs there and waits for them, at `due` where that was said, until `kept`."""

    number: int
    tool: str
    to: str
    code: str | None
    by: str
    since: datetime
    due: datetime | None
    why: str = ""
    kept: datetime | None = None


class Loans:
    """The loans, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def out(self, tool: str | None = None) -> tuple[Loan, ...]:
        """All that are out, or those of one tool, longest first."""
        found = _OUT.order_by(loans.c.since, loans.c.id)
        rows = self.connection.execute(found if tool is None else found.where(loans.c.tool == tool))
        return tuple(map(self._loan, rows))

    def of(self, case: int) -> tuple[Loan, ...]:
        """What the person of a case has, longest first."""
        found = _OUT.where(loans.c.case_id == case).order_by(loans.c.since, loans.c.id)
        return tuple(map(self._loan, self.connection.execute(found)))

    def counts(self) -> dict[str, int]:
        """How many of each tool are out."""
        found = select(loans.c.tool, func.count()).group_by(loans.c.tool)
        return {row[0]: row[1] for row in self.connection.execute(found)}

    def away(self, now: datetime, case: int) -> dict[str, int]:
        """How many of each tool are not there for somebody: out, or kept for another `case` than theirs (0 without)."""
        rows = _AWAY.all(self.connection, {"now": now, "but": case})
        return {row.tool: row.away for row in rows}

    def lend(self, tool: str, to: str, case_id: int | None, by: str, now: datetime, due: datetime | None) -> None:
        """One of a tool is out from now on; with the person of a case, or with somebody called `to`."""
        body = {"to": "" if case_id is not None else to, "by": by}
        row = {"tool": tool, "case_id": case_id, "since": now, "due": due, "body": self.cipher.encrypt_json(body)}
        self.connection.execute(insert(loans), row)

    def gone(self, tool: str, why: str, by: str, now: datetime) -> None:
        """One of a tool does not hang there any more, and nobody has it."""
        body = {"to": "", "by": by, "why": why}
        row = {"tool": tool, "case_id": None, "since": now, "due": None, "body": self.cipher.encrypt_json(body)}
        self.connection.execute(insert(loans), row)

    def keep(self, tool: str, to: str, by: str, now: datetime, due: datetime | None, until: datetime) -> None:
        """One of a tool hangs there and is nobody else's until a moment; `due` is when it will be fetched."""
        body = {"to": to, "by": by, "why": "kept"}
        row = {"tool": tool, "case_id": None, "since": now, "due": due, "body": self.cipher.encrypt_json(body)}
        self.connection.execute(insert(loans), {**row, "kept": until})

    def over(self, now: datetime) -> None:
        """What was kept until now is kept no longer."""
        self.connection.execute(delete(loans).where(loans.c.kept <= now))

    def home(self, number: int) -> bool:
        """The tool is back where it hangs; gives whether it was out."""
        return self.connection.execute(delete(loans).where(loans.c.id == number)).rowcount == 1

    def due(self, number: int, due: datetime) -> None:
        """A tool that is out ought to be back at this moment."""
        self.connection.execute(update(loans).where(loans.c.id == number).values(due=due))

    def hand(self, number: int, to: str) -> None:
        """Somebody else has a tool that is out."""
        row = self.connection.execute(select(loans.c.body).where(loans.c.id == number)).first()
        if row is not None:
            body = self.cipher.encrypt_json({**self.cipher.decrypt_json(row.body), "to": to})
            self.connection.execute(update(loans).where(loans.c.id == number).values(body=body, case_id=None))

    def _loan(self, row: Row[tuple[object, ...]]) -> Loan:
        body = self.cipher.decrypt_json(row.body)
        return Loan(
            row.id, row.tool, body["to"], row.code, body["by"], row.since, row.due, body.get("why", ""), row.kept
        )
