"""How the day goes, for an owner who asks: what was begun and closed, who waits, notes overdue, tools lent out.

A day is one of the shop's own clock. Nobody is named, and nothing that a customer wrote is in it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING

from babel import Locale
from babel.dates import format_skeleton, format_time

from triagebot.cases.summaries import Day, day_of
from triagebot.conversation import Guide
from triagebot.conversation.wording import habits
from triagebot.counter.bikes import called as called_bike
from triagebot.counter.lending_commands import late_row
from triagebot.counter.work import Attended, Work, answer
from triagebot.store.bikes import Bikes
from triagebot.store.loans import Loan, Loans
from triagebot.store.requests import Requests
from triagebot.store.staff import Ticket, Tickets
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import View

#: How a conversation stands, in the order in which it is told; "open" has no outcome yet.
OUTCOMES = ("answer", "look-alike", "person", "stopped", "open")
#: So many notes are named.
_MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Digest:
    """One day so far. `begun` counts today's conversations by how they stand, `closed` what was closed today, of which
    the remover `fitted` or did not (`misfits`); where nobody said, neither. `waiting_since`: the one waiting longest.
    `lent` counts the tools that are out, `late` those that ought to be back."""

    at: datetime
    begun: Mapping[str, int]
    closed: int
    fitted: int
    misfits: int
    waiting: int
    waiting_since: datetime | None
    held: int
    asleep: int
    overdue: tuple[str, ...]
    lent: int = 0
    late: int = 0

    @property
    def conversations(self) -> int:
        return sum(self.begun.values())


def digest_of(view: "View", guide: Guide, now: datetime) -> Digest:
    """The day so far, out of the store. `now` is aware."""
    day = day_of(view, guide.topic.id, _midnight(guide, now), now)
    return digest(day, Tickets(view).queue(), guide, now, Loans(view).out())


def digest(day: Day, tickets: Sequence[Ticket], guide: Guide, now: datetime, loans: Sequence[Loan] = ()) -> Digest:
    """The day so far, out of what was begun and closed, open tickets and tools that are out."""
    from triagebot.shop import overdue  # late: no conversation needs it

    begin = _midnight(guide, now)
    waiting = [ticket for ticket in tickets if ticket.state == "waiting"]
    return Digest(
        at=now,
        begun=MappingProxyType({outcome: day.begun[outcome] for outcome in OUTCOMES}),
        closed=day.closed.total(),
        fitted=day.closed[True],
        misfits=day.closed[False],
        waiting=len(waiting),
        waiting_since=min((ticket.opened_at for ticket in waiting), default=None),
        held=sum(ticket.state == "claimed" for ticket in tickets),
        asleep=sum(ticket.state == "snoozed" for ticket in tickets),
        overdue=tuple(note.title for note in overdue(guide.shop, begin.date())),
        lent=sum(not loan.why for loan in loans),
        late=sum(loan.due is not None and loan.due < now for loan in loans),
    )


def digest_text(guide: Guide, texts: Texts, found: Digest) -> str:
    """The digest in words; what is nothing is left out, apart from who waits."""
    zone, locale = guide.shop.zone, habits(texts)
    here = found.at.astimezone(zone)
    lines = [
        texts(
            "digest-head",
            day=format_skeleton("MMMMEEEEd", here, tzinfo=zone, locale=locale),
            time=format_time(here, "short", locale=locale),
            count=found.conversations,
        )
    ]
    lines += [texts(f"digest-{outcome}", count=count) for outcome, count in found.begun.items() if count]
    if found.closed:
        lines.append(texts("digest-closed", count=found.closed, fitted=found.fitted, misfits=found.misfits))
    lines.append(_waiting(texts, found, guide, locale))
    lines += [texts(f"digest-{name}", count=n) for name, n in (("held", found.held), ("asleep", found.asleep)) if n]
    if found.overdue:
        lines.append(texts("digest-overdue", count=len(found.overdue)))
        lines += [texts("digest-overdue-row", title=title) for title in found.overdue[:_MOST_NAMED]]
        if len(found.overdue) > _MOST_NAMED:
            lines.append(texts("digest-overdue-more", count=len(found.overdue) - _MOST_NAMED))
    if found.lent:
        lines.append(texts("digest-lent", count=found.lent, late=found.late))
    return "\n".join(lines)


def _waiting(texts: Texts, found: Digest, guide: Guide, locale: Locale) -> str:
    if found.waiting_since is None:
        return texts("digest-nobody-waits")
    since = found.waiting_since.astimezone(guide.shop.zone)
    today = since.date() == found.at.astimezone(guide.shop.zone).date()
    shown = format_time(since, "short", locale=locale)
    if not today:
        shown = f"{format_skeleton('MMMEd', since, tzinfo=since.tzinfo, locale=locale)}, {shown}"
    return texts("digest-waiting", count=found.waiting, since=shown)


def _midnight(guide: Guide, now: datetime) -> datetime:
    """When the day of `now` began where the shop is."""
    return now.astimezone(guide.shop.zone).replace(hour=0, minute=0, second=0, microsecond=0, fold=0)


def to_do(work: Work) -> str:
    """What waits today: cases, requests, tools that are due, bikes that are wanted."""
    end = work.now.astimezone(work.guide.shop.zone).replace(hour=23, minute=59)
    due = [loan for loan in Loans(work.tx).out() if not loan.why and loan.due is not None and loan.due <= end]
    wanted = [bike for bike in Bikes(work.tx).here() if bike.wanted is not None and bike.wanted <= end]
    rows = [work.texts("staff-to-do-head", waiting=Tickets(work.tx).waiting(), asked=len(Requests(work.tx).waiting()))]
    rows += [late_row(work, loan, "staff-due-row") for loan in due]
    rows += [work.texts("staff-to-do-bike", what=called_bike(work, bike)) for bike in wanted]
    return "\n".join(rows)


def todays(work: Work) -> Attended:
    """What is to be done today; for owners the digest behind it."""
    if work.member.role != "owner":
        return answer(to_do(work))
    return answer(digest_text(work.guide, work.texts, digest_of(work.tx, work.guide, work.now)))
