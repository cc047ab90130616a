"""Until when: "2h", "90 min", "until 15:00", "until we open", "tomorrow 9:30".

A time of day is the shop's, the next one that comes; one
that a change of clocks leaves out is the moment at which the clocks are put on.
"""

import re
from datetime import UTC, datetime, time, timedelta

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
    if fold(first) in words.times["tomorrow"]:
        day += timedelta(days=1)
        if not rest:
            midnight = datetime.combine(day, time(), tzinfo=hours.zone)
            opening = hours.next_opening(midnight - timedelta(microseconds=1))
            return None if opening is None else opening.opens
        head, _, tail = rest.partition(" ")
        clock = _clock(words, tail if fold(head) in words.times["until"] and tail else rest)
    else:
        clock = _clock(words, text)
    if clock is None:
        return None
    # Through UTC, since two times of one zone are compared by the wall.
    found = datetime.combine(day, clock, tzinfo=hours.zone).astimezone(UTC)
    if found <= now.astimezone(UTC):
        found = datetime.combine(day + timedelta(days=1), clock, tzinfo=hours.zone).astimezone(UTC)
    return found


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
