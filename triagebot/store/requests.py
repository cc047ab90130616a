"""What people ask of the shop, and what the staff answered: visits, and tools kept for them. Read and written inside
one transaction, so that no place is given twice: the second to write sees what the first has written.

    asked -> yes    a member agreed
    asked -> no     a member refused
    asked, yes -> over    the visit is past, the tool was fetched, or somebody asked for something else

What is asked for holds its place until it is refused or over.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Row, func, insert, select, update

from triagebot.store.tables import cases, requests
from triagebot.store.transactions import View

Kind = Literal["visit", "hold"]
#: These hold a place.
_STANDING = ("asked", "yes")


@dataclass(frozen=True, slots=True)
class Request:
    """A visit on a `day` (ISO 8601) in a `part` of it, or a `tool` kept `until` a moment; `text` says it as the case's
    event does, `what` what it is for."""

    number: int
    case: int
    code: str
    kind: Kind
    day: str | None
    part: str | None
    tool: str | None
    until: datetime | None
    state: str
    asked_at: datetime
    text: str
    what: str


_ROWS = select(requests, cases.c.code).join(cases, cases.c.id == requests.c.case_id)


class Requests:
    """The requests, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def ask_visit(self, case: int, day: str, part: str, places: int, text: str, what: str, now: datetime) -> bool:
        """Asks for a visit; gives whether there was a place. What the case asked for before is over."""
        self.over(case, "visit")
        if self.taken(day, part) >= places:
            return False
        self._ask(case, "visit", text, what, now, day=day, part=part)
        return True

    def ask_hold(self, case: int, tool: str, until: datetime, free: int, text: str, now: datetime) -> bool:
        """Asks for a tool to be kept; `free` is how many hang there. Gives whether one of them was nobody's."""
        self.over(case, "hold")
        if self.held(tool, now) >= free:
            return False
        self._ask(case, "hold", text, "", now, tool=tool, until=until)
        return True

    def taken(self, day: str, part: str) -> int:
        """How many places of a part of a day are asked for or given."""
        theirs = (requests.c.kind == "visit", requests.c.day == day, requests.c.part == part)
        found = select(func.count()).where(*theirs, requests.c.state.in_(_STANDING))
        return int(self.connection.scalar(found) or 0)

    def held(self, tool: str, now: datetime) -> int:
        """How many of a tool are kept for somebody, or asked for, now."""
        standing = (requests.c.tool == tool, requests.c.state.in_(_STANDING), requests.c.until > now)
        return int(self.connection.scalar(select(func.count()).where(*standing)) or 0)

    def of_tool(self, tool: str, now: datetime) -> tuple[Request, ...]:
        """For whom a tool is kept now, the soonest over first."""
        standing = (requests.c.tool == tool, requests.c.state.in_(_STANDING), requests.c.until > now)
        return self._all(_ROWS.where(*standing).order_by(requests.c.until))

    def waiting(self) -> tuple[Request, ...]:
        """All that the staff have not answered, oldest first."""
        return self._all(_ROWS.where(requests.c.state == "asked").order_by(requests.c.asked_at, requests.c.id))

    def of(self, case: int, *states: str) -> tuple[Request, ...]:
        """The requests of a case in one of these states, oldest first."""
        theirs = _ROWS.where(requests.c.case_id == case, requests.c.state.in_(states))
        return self._all(theirs.order_by(requests.c.id))

    def answer(self, number: int, state: Literal["yes", "no"]) -> bool:
        """A member answers; gives whether nobody had: of two at once, one does."""
        which = (requests.c.id == number, requests.c.state == "asked")
        change = update(requests).where(*which).values(state=state)
        return self.connection.execute(change).rowcount == 1

    def over(self, case: int, kind: Kind) -> None:
        """What a case asked for and was given of a kind is over, and holds no place."""
        theirs = (requests.c.case_id == case, requests.c.kind == kind, requests.c.state.in_(_STANDING))
        self.connection.execute(update(requests).where(*theirs).values(state="over"))

    def _ask(self, case: int, kind: Kind, text: str, what: str, now: datetime, **particulars: Any) -> None:
        row = {"day": None, "part": None, "tool": None, "until": None, **particulars}
        body = self.cipher.of_case(case).encrypt_json({"text": text, "what": what})
        made = {"case_id": case, "kind": kind, "state": "asked", "asked_at": now, "body": body}
        self.connection.execute(insert(requests), {**row, **made})

    def _all(self, found: Any) -> tuple[Request, ...]:
        return tuple(map(self._request, self.connection.execute(found)))

    def _request(self, row: Row[Any]) -> Request:
        body = self.cipher.decrypt_json(row.body)
        return Request(
            row.id, row.case_id, row.code, row.kind, row.day, row.part, row.tool, row.until, row.state, row.asked_at,
            body["text"], body["what"],
        )  # fmt: skip
