"""The queue: everybody who waits for a person, numbered, with what it seems to be and what they wrote last.

A number means the row that had it when this member last read the queue, whatever has come since.
"""

from dataclasses import dataclass

from triagebot.cases.loaded import unfolded
from triagebot.cases.thread import thread_of, unanswered
from triagebot.conversation import Case
from triagebot.conversation.edition import catch_up
from triagebot.conversation.scene import Scene
from triagebot.conversation.wording import all_said
from triagebot.counter.bench_answer import likely
from triagebot.counter.case_summary import reason_words
from triagebot.counter.requests import request_words
from triagebot.counter.work import QUEUE, Work
from triagebot.store.requests import Requests
from triagebot.store.staff import Staff, Ticket

#: So many cases are listed at once.
MOST_LISTED = 12
#: A kind is named from this share on.
HALF = 0.5
#: So much of what somebody wrote stands in the queue.
MOST_SAID = 80


@dataclass(frozen=True, slots=True)
class Row:
    """A case in the queue: `kind` is what it seems to be and `said` their last words, "" for none; `stands` is who has
    it (`waiting` for nobody), in words in `state`."""

    number: int
    code: str
    since: str
    kind: str
    reason: str
    stands: str
    state: str
    said: str


def listed(work: Work) -> tuple[Row, ...]:
    """Everybody who waits for a person."""
    return tuple(_row(work, number, ticket) for number, ticket in enumerate(work.tickets.queue(), 1))


def queue(work: Work, *, mine: bool = False) -> str:
    """Everybody who waits for a person; with `mine`, those whom this member has."""
    tickets = [each for each in work.tickets.queue() if not mine or each.holder == work.member.person]
    Staff(work.tx).stand(
        work.member, {**work.member.standing, QUEUE: [ticket.case for ticket in tickets[:MOST_LISTED]]}
    )
    if not tickets:
        return work.texts("staff-mine-none" if mine else "staff-queue-empty", waiting=work.tickets.waiting())
    rows = [work.texts("staff-queue-head", count=len(tickets))]
    rows += [_row_words(work, _row(work, number, ticket)) for number, ticket in enumerate(tickets[:MOST_LISTED], 1)]
    if len(tickets) > MOST_LISTED:
        rows.append(work.texts("staff-queue-more", count=len(tickets) - MOST_LISTED))
    return "\n".join(rows)


def last_words(work: Work, number: int, case: Case) -> str:
    """What somebody wrote last that nobody has answered, cut short; "" where there is nothing."""
    words = unanswered(thread_of(work.tx, number, case))
    text = " ".join(words[-1].text.split()) if words else ""
    return text if len(text) <= MOST_SAID else f"{text[: MOST_SAID - 1].rstrip()}…"


def _row(work: Work, number: int, ticket: Ticket) -> Row:
    stored = work.tx.case(ticket.case)
    assert stored is not None, "a ticket goes with its case"
    case = unfolded(stored).case
    mine = ticket.holder == work.member.person and ticket.state != "snoozed"
    stands = "mine" if mine else ticket.state
    asleep = work.when(ticket.until) if ticket.until is not None else ""
    return Row(
        number,
        stored.code,
        work.when(ticket.opened_at),
        _kind(work, case),
        _asked_for(work, stored.id) or reason_words(work.guide, work.texts, case, ticket.reason),
        stands,
        work.texts(f"staff-queue-{stands}", name=work.name_of(ticket.holder), until=asleep),
        last_words(work, stored.id, case),
    )


def _row_words(work: Work, row: Row) -> str:
    return work.texts(
        "staff-queue-row",
        number=row.number,
        code=row.code,
        since=row.since,
        kind=row.kind or "none",
        reason=row.reason,
        state=row.state,
        said=row.said or "none",
    )


def _asked_for(work: Work, number: int) -> str:
    """The visit or the tool that a case asks for; "" where it asks for none."""
    asked = Requests(work.tx).of(number, "asked")
    return "; ".join(request_words(work.guide, work.texts, request) for request in asked)


def _kind(work: Work, case: Case) -> str:
    """What it most likely is; where less than half speaks for anything, what the fitting looks like; "" where nothing
    was told of it."""
    if not case.now.readings:
        return ""
    scene = Scene(work.guide, case, work.now)
    catch_up(scene)
    step = scene.decide()
    (first, *_) = likely(work.guide, step)
    share = float(step.shares[work.guide.topic.model.fastenings.index(first.id)])
    if share >= HALF and not first.broad:
        return work.texts(f"fastening-{first.id}.short")
    sights = work.guide.topic.flow.outcomes.sights
    return all_said(work.guide, work.texts, [r for r in case.now.readings if r.question in sights])
