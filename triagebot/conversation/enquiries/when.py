"""When somebody wants to come: a day, a part of it, or a time of day, in the shop's own time.

Rules of this file:
- a number is a time of day if a word for "at" stands before it, or "pm" or "o'clock" behind it, or it has minutes;
- a bare hour is the one at which the shop is open, where only one is; else the one after noon up to seven;
- without a day it is today, or tomorrow where that time is over today; a day of the week that is today and over is
  that of the next week.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from triagebot.conversation.enquiries.lexicon import ClockWords
from triagebot.shop import Hours
from triagebot.shop.day_parts import PARTS, Part, part_at

_TOKEN = re.compile(r"\d{1,2}[:.h]\d{2}|\d+|[^\W\d_]+")
#: A bare hour up to this one is one after noon, if the shop is open at neither or at both.
_AFTER_NOON = 7
_WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Times:
    """The words of one language for times; phrases of several words are not looked for."""

    today: tuple[str, ...]
    parts: Mapping[Part, tuple[str, ...]]
    clock: ClockWords


@dataclass(frozen=True, slots=True)
class When:
    """A day; the part of it and the moment, as far as they were said."""

    day: date
    part: Part | None = None
    moment: datetime | None = None


def when_said(
    text: str, times: Times, days: Sequence[date], *, named: bool, now: datetime, hours: Hours
) -> When | None:
    """When a text speaks of; None where it names neither day nor part nor time. `days` are those that its words name,
    today where none are `named`."""
    tokens = _TOKEN.findall(text.lower().replace("'", "").replace("’", ""))
    local = now.astimezone(hours.zone)
    today = any(token in times.today for token in tokens)
    clock, part = _clock(tokens, times.clock), _part(tokens, times)
    if clock is None and part is None and not named and not today:
        return None
    day = days[0] if named else local.date()
    moment = _moment(day, clock, hours) if clock is not None else None
    over = _over(day, part, moment, local)
    if over and named and day == local.date():
        day += _WEEK
    elif over and not named and not today:
        day += timedelta(days=1)
    moment = _moment(day, clock, hours) if clock is not None else None
    return When(day, part_at(moment) if moment is not None else part, moment)


def _over(day: date, part: Part | None, moment: datetime | None, local: datetime) -> bool:
    if moment is not None:
        return moment <= local
    later = [begins for name, begins in PARTS if begins > dict(PARTS)[part]] if part is not None else []
    return day == local.date() and bool(later) and local.time() >= later[0]


def _part(tokens: Sequence[str], times: Times) -> Part | None:
    return next((part for token in tokens for part, words in times.parts.items() if token in words), None)


def _clock(tokens: Sequence[str], words: ClockWords) -> tuple[int, int, bool] | None:
    """Hour and minute, and whether it is known which half of the day is meant."""
    for place, token in enumerate(tokens):
        if token in words.noon:
            return 12, 0, True
        found = _number(token, words)
        if found is None:
            continue
        hour, minute = found
        behind = tokens[place + 1] if place + 1 < len(tokens) else ""
        half = place > 0 and (tokens[place - 1] in words.half or tokens[place - 2 : place - 1] == [*words.half[:1]])
        said = minute is not None or half or (place > 0 and tokens[place - 1] in words.at)
        if behind in (*words.am, *words.pm) and 1 <= hour <= 12:
            return hour % 12 + 12 * (behind in words.pm), minute or 0, True
        if (said or behind in words.oclock) and hour < 24 and (minute or 0) < 60:
            return hour, 30 if half else minute or 0, hour > 12 or token.startswith("0")
    return None


def _number(token: str, words: ClockWords) -> tuple[int, int | None] | None:
    if token in words.hours:
        return words.hours.index(token) + 1, None
    if token.isdecimal():
        return int(token), None
    if token[0].isdecimal():
        hour, minute = re.split(r"[:.h]", token)
        return int(hour), int(minute)
    return None


def _moment(day: date, clock: tuple[int, int, bool], hours: Hours) -> datetime:
    hour, minute, known = clock
    said = datetime.combine(day, time(hour, minute), tzinfo=hours.zone)
    if known or hour > 12:
        return said
    other = datetime.combine(day, time((hour + 12) % 24, minute), tzinfo=hours.zone)
    if hours.is_open(said) != hours.is_open(other):
        return said if hours.is_open(said) else other
    return other if hour <= _AFTER_NOON else said
