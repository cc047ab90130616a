"""Until when: "2h", "90 min", "until 15:00", "until we open", "tomorrow 9:30", "until fri", "tonight".

A time of day is the shop's, the next one that comes; one that a change of clocks leaves out is the moment at which the
clocks are put on. A bare hour ("until 5") is the one at which the shop is open, where only one is. A bare day lasts
until the shop closes then.
"""

import re
from datetime import UTC, date, datetime, time, timedelta

from triagebot.counter.words import StaffWords
from triagebot.shop import Hours, fold

#: Nothing sleeps longer, or for less.
MOST, LEAST = timedelta(days=60), timedelta(minutes=1)

_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?:\s?([^\W\d_]+))?")
_MUCH = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_]+)")


def until(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """The moment that a text means, in UTC; None where it means none, or none that comes within `MOST`."""
    found = _moment(words, text.strip().lower(), now, hours)
    if found is None or not LEAST <= found - now <= MOST:
        return None
    return found.astimezone(UTC)


def _moment(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    first, _, rest = text.partition(" ")
    if fold(first) in words.times["for"] and rest:
        return _after(words, rest, now)
    if fold(first) in words.times["until"] and rest:
        return _at(words, rest, now, hours)
    if text.isdigit():  # hours, or a time of day?
        return None
    return _after(words, text, now) or _at(words, text, now, hours)


def _after(words: StaffWords, text: str, now: datetime) -> datetime | None:
    if fold(text) in words.times["half"]:
        return now + timedelta(minutes=30)
    much = timedelta(0)
    rest = text
    while match := _MUCH.match(rest.strip()):
        amount, unit = float(match[1].replace(",", ".")), fold(match[2])
        kind = next((k for k in ("minutes", "hours", "days") if unit in words.times[k]), None)
        if kind is None or amount > 10_000:
            return None
        much += timedelta(**{kind: amount})
        rest = rest.strip()[match.end() :]
    return now + much if much and not rest.strip() else None


def _at(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    first, _, rest = text.partition(" ")
    if fold(text) in words.times["opening"]:
        opening = hours.next_opening(now)
        return None if opening is None else opening.opens
    local = now.astimezone(hours.zone)
    day = local.date()
    if fold(text) in words.times["closing"]:
        return _closing(day, now, hours)
    if fold(text) in words.times["noon"]:
        text = "12:00"
    weekday = next((place for place, names in enumerate(words.weekdays) if fold(first) in names), None)
    if weekday is not None:
        day += timedelta(days=(weekday - day.weekday() - 1) % 7 + 1)
        if not rest:
            return _closing(day, now, hours)
        head, _, tail = rest.partition(" ")
        clock = _clock(words, tail if fold(head) in words.times["until"] and tail else rest)
    elif fold(first) in words.times["tomorrow"]:
        day += timedelta(days=1)
        if not rest:
            midnight = datetime.combine(day, time(), tzinfo=hours.zone)
            opening = hours.next_opening(midnight - timedelta(microseconds=1))
            return None if opening is None else opening.opens
        head, _, tail = rest.partition(" ")
        clock = _clock(words, tail if fold(head) in words.times["until"] and tail else rest)
    else:
        clock = _clock(words, text)
        later = datetime.combine(day, time((int(text) + 12) % 24), tzinfo=hours.zone) if _is_bare(text) else now
        if later > now and hours.is_open(later - LEAST):
            return later
    if clock is None:
        return None
    # Through UTC, since two times of one zone are compared by the wall.
    found = datetime.combine(day, clock, tzinfo=hours.zone).astimezone(UTC)
    if found <= now.astimezone(UTC):
        found = datetime.combine(day + timedelta(days=1), clock, tzinfo=hours.zone).astimezone(UTC)
    return found


def _is_bare(text: str) -> bool:
    """Whether it is an hour on a clock face and nothing else."""
    return text.isdecimal() and 1 <= int(text) <= 11


def _closing(day: date, now: datetime, hours: Hours) -> datetime:
    """When the shop closes for the last time on a day that is to come or has begun; the end of a day on which it is
    closed."""
    end = datetime.combine(day + timedelta(days=1), time(), tzinfo=hours.zone)
    at, last = max(now, datetime.combine(day, time(), tzinfo=hours.zone)), None
    opening = hours.opening_at(at) or hours.next_opening(at)
    while opening is not None and opening.opens < end:
        last, opening = opening.closes, hours.next_opening(opening.closes)
    return end if last is None else min(last, end)


def _clock(words: StaffWords, text: str) -> time | None:
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hour, minute, half = int(match[1]), int(match[2] or 0), fold(match[3] or "")
    known = (*words.times["morning"], *words.times["afternoon"])
    if (half and half not in known) or (half and not 1 <= hour <= 12) or not (hour < 24 and minute < 60):
        return None
    if half:
        hour = hour % 12 + (12 if half in words.times["afternoon"] else 0)
    return time(hour, minute)
