"""A visit that the shop agreed to, as a file for a calendar (RFC 5545), and where that is fetched.

A visit without a time of day lasts as long as the shop is open in its part of the day.
"""

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from triagebot.conversation import Case, Guide
from triagebot.conversation.blocks import Attachment, Block, CardLink
from triagebot.conversation.visiting import agreed, open_part
from triagebot.store.grants import Grants
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

#: What the file is called.
NAME = "visit.ics"
#: How long the address of the file counts, and how long somebody who said a time stays.
LASTS, STAYS = timedelta(days=60), timedelta(minutes=30)


def calendar_link(tx: "Transaction", number: int, address: str, now: datetime) -> str:
    """The address of the file of a case's visit; `address` is that of the pages, without a slash."""
    return f"{address}/visit/{Grants(tx).issue('visit', number, {}, now, now + LASTS)}.ics"


def in_calendar(tx: "Transaction", guide: Guide, number: int, case: Case, now: datetime) -> tuple[Block, ...]:
    """The visit as a file that goes with the message, and where else it is if people can reach the pages."""
    texts = guide.language(case.language).texts
    file = calendar_file(guide, texts, case, now)
    if file is None:
        return ()
    attached = Attachment(NAME, file.decode())
    if guide.address is None:
        return (attached,)
    url = calendar_link(tx, number, guide.address, now)
    return (CardLink(texts("calendar-link", url=url), url), attached)


def case_behind(view: "View", secret: str, now: datetime) -> int | None:
    """The number of the case whose visit a secret gives; None for one that gives none."""
    grant = Grants(view).find("visit", secret, now)
    return None if grant is None else grant.case_id


def calendar_file(guide: Guide, texts: Texts, case: Case, now: datetime) -> bytes | None:
    """The file; None where no visit is agreed on."""
    from icalendar import Calendar, Event  # late: few ask for it

    visit = agreed(case)
    if visit is None:
        return None
    begins, ends = visit.moment, None
    if begins is None:
        part = open_part(guide, visit)
        if part is None:
            return None
        begins, ends = part.opens, part.closes
    event = Event()
    event.add("uid", f"{case.code}-{visit.day}@triagebot")
    event.add("dtstamp", now)
    event.add("dtstart", begins.astimezone(guide.shop.zone))
    event.add("dtend", (ends or begins + STAYS).astimezone(guide.shop.zone))
    event.add("summary", texts("calendar-title", shop=guide.shop.name))
    event.add("description", texts("calendar-about", code=case.code, contact=guide.shop.contact.line))
    if guide.shop.contact.street:
        event.add("location", guide.shop.contact.street)
    calendar = Calendar()
    calendar.add("prodid", "-//triagebot//visits//")
    calendar.add("version", "2.0")
    calendar.add_component(event)
    calendar.add_missing_timezones(date(begins.year, 1, 1), date(begins.year + 1, 12, 31))
    return bytes(calendar.to_ical())
