"""Visits and tools that people ask for: taken down inside the turn that asks, told to the staff, and who has a place.

Rules of this file:
- the first to ask gets the place, and there are no more places than the shop's folder says; a tool is kept for
  one person at a time, and only one that hangs there;
- a customer who asks for another visit, or another tool, gives up the one before;
- a request opens its case's ticket, so that it stands in the queue, and is told to those who hear of the case;
- one that nobody answered before its time was over leaves the queue then, and who asked hears it.
"""

from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.loaded import unfolded
from triagebot.cases.tickets import tries_it_out, who_hears
from triagebot.conversation import Case, Guide, Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.events import Remarked
from triagebot.conversation.outcome import leading
from triagebot.conversation.reply import told
from triagebot.conversation.scene import Scene
from triagebot.conversation.visiting import (
    ASKS,
    CANCELLED,
    Hold,
    Visit,
    hold_of,
    open_part,
    until_words,
    visit_of,
    visit_words,
)
from triagebot.conversation.wording import listing
from triagebot.shop.day_parts import open_parts
from triagebot.store.loans import Loans
from triagebot.store.requests import Request, Requests
from triagebot.store.staff import Staff, Tickets
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

#: So many other parts of days are offered where one is full, and so many days are looked at for them.
MOST_FREE, DAYS_AHEAD = 3, 7


def put(
    tx: "Transaction", guide: Guide, number: int, case: Case, asked: Remarked, reply: Reply, by: str, now: datetime
) -> tuple[Reply, tuple[ToOthers, ...]]:
    """Takes down what a turn asked for; gives the reply with what came of it, and what the staff are told."""
    member = Staff(tx).member(by)
    if tries_it_out(member):  # it is only tried out
        return reply, ()
    if asked.what == CANCELLED:
        return reply, _cancel(tx, guide, number, now)
    texts = guide.language(case.language).texts
    refused = (
        _visit(tx, guide, texts, number, case, visit_of(asked.text), now)
        if asked.what == ASKS["visit"]
        else _hold(tx, guide, texts, number, hold_of(asked.text), now)
    )
    if refused:
        return _instead(reply, refused), ()
    (request,) = Requests(tx).of(number, "asked")[-1:]
    Tickets(tx).open(number, request.kind, now)
    return reply, tuple(_tell(tx, guide, request, now))


def _visit(
    tx: "Transaction", guide: Guide, texts: Texts, number: int, case: Case, visit: Visit, now: datetime
) -> str:  # fmt: skip
    """Why there is no place; "" where there was one."""
    part = open_part(guide, visit)
    places = part.places if part is not None else 0
    wanted = _service(guide, case, now)
    if Requests(tx).ask_visit(number, visit.day, visit.part, places, visit.text, wanted, now):
        return ""
    free = listing(texts, [visit_words(guide, texts, each) for each in free_parts(tx, guide, visit, now)])
    return texts("visit-full", visit=visit_words(guide, texts, replace(visit, moment=None)), free=free or "none")


def _hold(tx: "Transaction", guide: Guide, texts: Texts, number: int, hold: Hold, now: datetime) -> str:
    tool = guide.shop.tool_for(hold.tool)
    away = Loans(tx).counts().get(hold.tool, 0)
    free = tool.count - away if tool is not None else 0
    if Requests(tx).ask_hold(number, hold.tool, hold.until, free, hold.text, now):
        return ""
    return texts("hold-none", name=tool.name if tool is not None else hold.tool)


def unanswered(tx: "Transaction", guide: Guide, now: datetime) -> tuple[ToOthers, ...]:
    """Ends what nobody answered in time; what those are told who asked."""
    requests, tickets, to_others = Requests(tx), Tickets(tx), list[ToOthers]()
    for request in requests.waiting():
        stored = tx.case(request.case)
        if stored is None or not is_past(guide, request, now):
            continue
        requests.over(request.case, request.kind)
        case = unfolded(stored).case
        ticket = tickets.of(request.case)
        if ticket is not None and ticket.reason == request.kind and not case.handed and case.now.outcome != "person":
            tickets.close(request.case)
        texts = guide.language(case.language).texts
        what = request_told(guide, texts, request)
        words = told(texts("request-unanswered", what=what), about="request-unanswered")
        to_others += [
            ToOthers(person, None, words, aside=True, language=case.language) for person in reached(tx, request.case)
        ]
    return tuple(to_others)


def is_past(guide: Guide, request: Request, now: datetime) -> bool:
    """Whether the part of the day of a visit has ended, or the moment has come until which a tool is kept."""
    if request.until is not None:
        return request.until <= now
    part = open_part(guide, visit_of(request.text))
    ends = part.closes if part is not None else None
    today = now.astimezone(guide.shop.hours.zone).date().isoformat()
    return ends <= now if ends is not None else str(request.day) < today


def _cancel(tx: "Transaction", guide: Guide, number: int, now: datetime) -> tuple[ToOthers, ...]:
    """Somebody does not come: their place is free, and the staff hear it where they had been asked."""
    standing = [each for each in Requests(tx).of(number, "asked", "yes") if each.kind == "visit"]
    Requests(tx).over(number, "visit")
    tickets = Tickets(tx)
    ticket = tickets.of(number)
    if ticket is not None and ticket.reason == "visit":
        tickets.close(number)
    return tuple(
        each for request in standing[-1:] for each in _tell(tx, guide, request, now, "staff-request-cancelled")
    )


def free_parts(view: "View", guide: Guide, visit: Visit, now: datetime) -> list[Visit]:
    """The next parts of days in which there is a place, from the day of a visit on."""
    visits = guide.shop.about.visits
    first = date.fromisoformat(visit.day)
    days = [date.fromordinal(first.toordinal() + more) for more in range(DAYS_AHEAD)] if visits is not None else []
    parts = (part for day in days if visits is not None for part in open_parts(guide.shop.hours, visits, day))
    found = (
        Visit(part.day.isoformat(), part.part, None)
        for part in parts
        if part.closes > now and Requests(view).taken(part.day.isoformat(), part.part) < part.places
    )
    return [each for each, _ in zip(found, range(MOST_FREE), strict=False)]


def _service(guide: Guide, case: Case, now: datetime) -> str:
    """What the shop is likely to do then: its first service for what was named; "" where nothing was."""
    if case.now.outcome != "answer":
        return ""
    step = Scene(guide, case, now).decide()
    able = guide.shop.services_for(leading(guide, step, step.decision)[0].id)
    return next((service.name for service in able if not service.damaged), "")


def _instead(reply: Reply, words: str) -> Reply:
    """The reply, with why it was not asked for in place of that it was."""
    changed = [
        Remark(words, "visit-full") if isinstance(block, Remark) and block.about == "visit-asked" else block
        for block in reply.blocks
    ]
    return replace(reply, blocks=tuple(changed))


def _tell(
    tx: "Transaction", guide: Guide, request: Request, now: datetime, text: str = "staff-request"
) -> list[ToOthers]:
    language = guide.shop.language
    texts = guide.language(language).texts
    words = told(texts(text, code=request.code, what=request_words(guide, texts, request)), about=text)
    beside = {"about": request.code}
    return [
        ToOthers(member.person, None, words, aside=True, language=language, beside=beside)
        for member in who_hears(tx, request.case, now)
    ]


def request_words(guide: Guide, texts: Texts, request: Request) -> str:
    """What is asked for, as the staff read it."""
    if request.kind == "visit":
        visit = visit_words(guide, texts, visit_of(request.text))
        return texts("staff-request-visit", visit=visit, what=request.what or "none")
    hold = hold_of(request.text)
    tool = guide.shop.tool_for(hold.tool)
    name = tool.name if tool is not None else hold.tool
    return texts("staff-request-hold", name=name, until=until_words(guide, texts, hold.until))


def request_told(guide: Guide, texts: Texts, request: Request) -> str:
    """What was asked for, as who asked reads it."""
    if request.kind == "visit":
        return visit_words(guide, texts, visit_of(request.text))
    hold = hold_of(request.text)
    tool = guide.shop.tool_for(hold.tool)
    return tool.name if tool is not None else hold.tool


def told_answer(guide: Guide, texts: Texts, request: Request, *, agreed: bool, why: str) -> str:
    """What the customer is told."""
    said = {"why": why or "none"}
    ending = "agreed" if agreed else "refused"
    if request.kind == "visit":
        return texts(f"visit-{ending}", visit=visit_words(guide, texts, visit_of(request.text)), **said)
    hold = hold_of(request.text)
    tool = guide.shop.tool_for(hold.tool)
    name = tool.name if tool is not None else hold.tool
    return texts(f"hold-{ending}", tool=name, until=until_words(guide, texts, hold.until), **said)
