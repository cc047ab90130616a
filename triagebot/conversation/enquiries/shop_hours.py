"""When the shop is open, in words: now, on a day that somebody names, in a usual week, over the holidays."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from babel.dates import format_date, format_time, get_day_names

from triagebot.conversation.guide import Guide
from triagebot.conversation.wording import habits, listing
from triagebot.shop import Closure, Span
from triagebot.topics import Texts

#: So many closed periods are told at once, and so far ahead; one beyond `NEAR` only if there is no nearer one.
CLOSURES, AHEAD, NEAR = 2, timedelta(days=400), timedelta(days=150)
#: A day so near: when it opens after that day is what one wants to know.
SOON = timedelta(days=3)
_WEEK = 7


def now_open(guide: Guide, texts: Texts, now: datetime, *, shut: bool = False) -> str:
    """Whether the shop is open now, and until when; else when it opens next. `shut`: asked if it is shut."""
    asked = ".asked-shut" if shut else ""
    opening = guide.shop.hours.opening_at(now)
    if opening is not None:
        return texts(f"enquiry-open-now{asked}", until=clock(texts, opening.closes))
    return texts(f"enquiry-shut-now{asked}", next=opens_next(guide, texts, now))


def opens_next(guide: Guide, texts: Texts, now: datetime) -> str:
    """When it opens next, as a sentence; "" if it does not."""
    upcoming = guide.shop.hours.next_opening(now)
    if upcoming is None:
        return ""
    opens = upcoming.opens.astimezone(guide.shop.zone)
    same_day = opens.date() == today(guide, now)
    day = "" if same_day else day_name(texts, opens.date())
    return texts("opens-today" if same_day else "opens-next", day=day, at=clock(texts, opens))


def visit(guide: Guide, texts: Texts, now: datetime) -> str:
    """The same in short, whether it is open or not: "We’re open until 18:00."."""
    opening = guide.shop.hours.opening_at(now)
    if opening is None:
        return opens_next(guide, texts, now)
    return texts("enquiry-open-until", until=clock(texts, opening.closes))


def on_days(
    guide: Guide, texts: Texts, days: Sequence[date], *, shut: bool = False, now: datetime | None = None
) -> str:
    """When it is open on these days; if on none of them, when it opens after them, or next from `now` if they
    are far off. `shut`: as above."""
    said = [_on_day(guide, texts, day, ".asked-shut" if shut else "") for day in days]
    closed = all(not _spans(guide, day) for day in days)
    behind = datetime.combine(days[-1], time.max, tzinfo=guide.shop.zone)
    if now is not None and days[-1] - today(guide, now) > SOON:
        behind = now
    return " ".join([*said, *((opens_next(guide, texts, behind),) if closed else ())]).strip()


def opens_on(guide: Guide, day: date) -> bool:
    """Whether it opens on a day at all."""
    return bool(_spans(guide, day))


def usual_week(guide: Guide, texts: Texts) -> str:
    """The hours of a usual week, days of the same hours together."""
    week = guide.shop.hours.week
    names = [_weekday(texts, day) for day in range(_WEEK)]
    groups = dict.fromkeys(spans for spans in week if spans)
    rows = [
        texts(
            "enquiry-hours-row",
            days=listing(texts, [names[day] for day in range(_WEEK) if week[day] == spans]),
            hours=hours(texts, spans),
        )
        for spans in groups
    ]
    return texts("enquiry-hours", rows=texts("list-between").join(rows)) if rows else texts("enquiry-never-open")


def closed_days(guide: Guide, texts: Texts, now: datetime) -> str:
    """The next days on which the shop stays shut, and whether more are known."""
    day = today(guide, now)
    coming = [row for row in guide.shop.hours.closures if row.last >= day and row.first <= day + AHEAD]
    if not coming:
        return texts("enquiry-no-closed-days")
    near = [row for row in coming if row.first <= day + NEAR] or coming[:1]
    told = [_closure(texts, row, day) for row in near[:CLOSURES]]
    return " ".join(told if len(told) < len(coming) else [*told, texts("enquiry-else-open")])


def hours(texts: Texts, spans: Sequence[Span]) -> str:
    """Openings in words: "10:00 to 13:00 and 14:00 to 18:00"."""
    rows = [texts("amount-range", low=_minutes(span.opens), high=_minutes(span.closes)) for span in spans]
    return listing(texts, rows)


def clock(texts: Texts, at: datetime) -> str:
    """A time of day."""
    return str(format_time(at, "HH:mm", tzinfo=at.tzinfo, locale=habits(texts)))


def day_name(texts: Texts, day: date) -> str:
    """A day with its date: "Saturday 5 December"."""
    return str(format_date(day, "EEEE d MMMM", locale=habits(texts)))


def _on_day(guide: Guide, texts: Texts, day: date, asked: str) -> str:
    spans = _spans(guide, day)
    if spans:
        return texts(f"enquiry-open-on{asked}", day=day_name(texts, day), hours=hours(texts, spans))
    closure = next((row for row in guide.shop.hours.closures if row.first <= day <= row.last), None)
    if closure is not None:
        return texts(f"enquiry-closed-on{asked}", day=day_name(texts, day), reason=closure.reason)
    return texts(f"enquiry-shut-on{asked}", day=_weekday(texts, day.weekday()))


def _spans(guide: Guide, day: date) -> tuple[Span, ...]:
    closed = any(row.first <= day <= row.last for row in guide.shop.hours.closures)
    return () if closed else guide.shop.hours.week[day.weekday()]


def _closure(texts: Texts, row: Closure, today: date) -> str:
    """A closed period; the year is named where it is not this one."""
    first, last = (
        str(format_date(day, "d MMMM" if day.year == today.year else "d MMMM y", locale=habits(texts)))
        for day in (row.first, row.last)
    )
    name = "enquiry-closed-day" if row.first == row.last else "enquiry-closed-days"
    return texts(name, first=first, last=last, reason=row.reason)


def today(guide: Guide, now: datetime) -> date:
    """The date where the shop is."""
    return now.astimezone(guide.shop.zone).date()


def _minutes(minutes: int) -> str:
    return f"{minutes // 60 % 24}:{minutes % 60:02}"


def _weekday(texts: Texts, day: int) -> str:
    return str(get_day_names("wide", locale=habits(texts))[day])
