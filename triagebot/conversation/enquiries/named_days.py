"""Which days somebody means: "on the 24th", "next friday", "christmas eve", "tomorrow", "at the weekend".

Rules of this file: a date or a feast goes before the name of a day of the week; what has no year is the next one to
come, today among them; a "next" day of the week is never today.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise

from triagebot.conversation.enquiries.lexicon import TOMORROW, WEEKEND

_SATURDAY, _WEEK = 5, 7
#: A day of a month is looked for so many months ahead, a date so many years: the 31st, the 29th of February.
_MONTHS_AHEAD, _YEARS_AHEAD = 12, 8
_MONTHS = 12


@dataclass(frozen=True)
class DayWords:
    """The words of a language that name days. `days` give 0 to 6 from Monday, or a weekend or tomorrow; `ordinals` the
    day of a month, `months` 1 to 12, `feasts` (words in a row) month and day; `next` and `after` stand before a day."""

    days: Mapping[str, int] = field(default_factory=dict)
    ordinals: Mapping[str, int] = field(default_factory=dict)
    months: Mapping[str, int] = field(default_factory=dict)
    feasts: Mapping[tuple[str, ...], tuple[int, int]] = field(default_factory=dict)
    next: frozenset[str] = frozenset()
    after: frozenset[str] = frozenset()


def days_named(today: date, words: DayWords, keys: Sequence[str]) -> tuple[date, ...]:
    """The days that these words name, from today on; today where they name none."""
    dated = date_named(today, words, keys)
    if dated is not None:
        return (dated,)
    places = [place for place, key in enumerate(keys) if key in words.days]
    if not places:
        return (today,)
    each = dict.fromkeys(day for place in places[:_WEEK] for day in _day_named(today, words, keys, place))
    return tuple(sorted(each))


def _day_named(today: date, words: DayWords, keys: Sequence[str], place: int) -> tuple[date, ...]:
    """The day that the word at this place names; the two of a weekend."""
    named, before = words.days[keys[place]], keys[place - 1] if place else ""
    if named == TOMORROW:
        return (today + timedelta(days=2 if before in words.after else 1),)
    wanted = _SATURDAY if named == WEEKEND else named
    first = today + timedelta(days=(wanted - today.weekday()) % _WEEK)
    if before in words.next and first == today:
        first += timedelta(days=_WEEK)
    return (first, first + timedelta(days=1)) if named == WEEKEND else (first,)


def names_a_day(words: DayWords, keys: Sequence[str]) -> bool:
    """Whether these words name any day."""
    return date_named(date.min, words, keys) is not None or any(key in words.days for key in keys)


def date_named(today: date, words: DayWords, keys: Sequence[str]) -> date | None:
    """The date or the feast that these words name; None where they name none."""
    for feast, (month, day) in words.feasts.items():
        if any(tuple(keys[at : at + len(feast)]) == feast for at in range(len(keys))):
            return _coming(today, month, day)
    for month, day in _dates(words, keys):
        if (found := _coming(today, month, day)) is not None:
            return found
    counted = [words.ordinals[key] for key in keys if key in words.ordinals]
    return _day_of_a_month(today, counted[-1]) if counted else None


def _dates(words: DayWords, keys: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Months with the day that stands beside them, and "24/12" where it can only be that."""
    for place, key in enumerate(keys):
        around = (*keys[place + 1 : place + 3], *reversed(keys[max(0, place - 2) : place]))
        if key in words.months:
            yield from ((words.months[key], day) for each in around if (day := _day(words, each)))
    for one, other in pairwise(keys):
        if one.isdecimal() and other.isdecimal() and int(one) > _MONTHS and 1 <= int(other) <= _MONTHS:
            yield int(other), int(one)


def _day(words: DayWords, key: str) -> int:
    """The day of a month that a word names; 0 for any other."""
    if key in words.ordinals:
        return words.ordinals[key]
    return int(key) if key.isdecimal() and len(key) <= 2 else 0


def _coming(today: date, month: int, day: int) -> date | None:
    years = range(today.year, today.year + _YEARS_AHEAD + 1)
    return next((found for year in years if (found := _date(year, month, day)) and found >= today), None)


def _day_of_a_month(today: date, day: int) -> date | None:
    months = ((today.year * _MONTHS + today.month - 1) + ahead for ahead in range(_MONTHS_AHEAD))
    dates = (_date(month // _MONTHS, month % _MONTHS + 1, day) for month in months)
    return next((found for found in dates if found is not None and found >= today), None)


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
