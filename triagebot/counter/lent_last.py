"""The loans that a member changed last, so that a word puts them right."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from triagebot.counter.work import Work
from triagebot.store.loans import Loan
from triagebot.store.staff import Staff

#: What a member's standing has of them.
LENT = "lent"
#: So long they can be put right in a word.
_STANDS = timedelta(minutes=10)


def remembered(work: Work, loans: Sequence[Loan], *, back: bool) -> None:
    """Remembers what was lent, or with `back` what came home; all of one message together."""
    rows = [
        {"number": each.number, "tool": each.tool, "to": each.to, "code": each.code,
         "due": each.due.isoformat() if each.due is not None else None}
        for each in loans
    ]  # fmt: skip
    member = Staff(work.tx).member(work.member.person) or work.member
    before = member.standing.get(LENT)
    if before is not None and before["at"] == work.now.isoformat() and before["back"] == back:
        rows = [*before["rows"], *rows]  # of the same message: "lend the small four and the whip to Kim"
    kept = {"rows": rows, "back": back, "at": work.now.isoformat()}
    Staff(work.tx).stand(member, {**member.standing, LENT: kept})


def last(work: Work) -> dict[str, Any] | None:
    """What was remembered; None where that is long ago."""
    kept = work.member.standing.get(LENT)
    if kept is None or work.now - datetime.fromisoformat(kept["at"]) > _STANDS:
        return None
    return dict(kept)
