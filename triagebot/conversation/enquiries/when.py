"""When somebody wants to come: a day, a part of it, or a time of day (`clock`), in the shop's own time.

Rules of this file:
- a number is a time of day if a word for "at" stands before it, or "pm" or "o'clock" behind it, or it has minutes;
- without a day it is today, or tomorrow where that time is over today; a day of the week that is today and over is
  that of the next week.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from triagebot.conversation.enquiries.clock import Clock, ClockWords, in_numbers, on_day, read_clock
from triagebot.shop import Hours
from triagebot.shop.day_parts import PARTS, Part, part_at

_TOKEN = re.compile(r"\d{1,2}[:.h]\d{2}|\d+|[^\W\d_]+")
_WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Times:
    """The words of one language for times; phrases of several words are not looked for."""

    today: tuple[str, ...]
    parts: Mapping[Part, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class When:
    """A day; the part of it and the moment, as far as they were said."""

    day: date
    part: Part | None = None
    moment: datetime | None = None


def when_said(
    text: str, times: Times, clocks: ClockWords, days: Sequence[date], *, named: bool, now: datetime, hours: Hours
) -> When | None:
    """When a text speaks of; None where it names neither day nor part nor time. `days` are those that its words name,
    today where none are `named`."""
    tokens = _TOKEN.findall(in_numbers(text.lower().replace("'", "").replace("’", ""), clocks))
    local = now.astimezone(hours.zone)
    today = any(token in times.today for token in tokens)
    clock, part = _clock(tokens, clocks), _part(tokens, times)
    if clock is None and part is None and not named and not today:
        return None
    day = days[0] if named else local.date()
    moment = on_day(day, clock, hours) if clock is not None else None
    over = _over(day, part, moment, local)
    if over and named and day == local.date():
        day += _WEEK
    elif over and not named and not today:
        day += timedelta(days=1)
    moment = on_day(day, clock, hours) if clock is not None else None
    return When(day, part_at(moment) if moment is not None else part, moment)


def _over(day: date, part: Part | None, moment: datetime | None, local: datetime) -> bool:
    if moment is not None:
        return moment <= local
    later = [begins for name, begins in PARTS if begins > dict(PARTS)[part]] if part is not None else []
    return day == local.date() and bool(later) and local.time() >= later[0]


def _part(tokens: Sequence[str], times: Times) -> Part | None:
    return next((part for token in tokens for part, words in times.parts.items() if token in words), None)


def _clock(tokens: Sequence[str], words: ClockWords) -> Clock | None:
    """The first time of day among these words that is said to be one."""
    for place, token in enumerate(tokens):
        behind = tokens[place + 1] if place + 1 < len(tokens) else ""
        clock = read_clock(f"{token} {behind}", words) if behind in (*words.am, *words.pm) else None
        clock = clock or read_clock(token, words)
        said = place > 0 and tokens[place - 1] in words.at
        if clock is not None and (said or not token.isalnum() or behind in (*words.am, *words.pm, *words.oclock)):
            return clock
        if token in words.noon:
            return clock
    return None
