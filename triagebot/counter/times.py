"""Until when: "2h", "90 min", "until 15:00", "until we open", "tomorrow 9:30", "until fri", "tonight".

A time of day (`conversation.enquiries.clock`) is the shop's, the next one that comes; one that a change of clocks
leaves out is the moment at which the clocks are put on. Before six in the morning, one with minutes is the next one. A
bare day lasts until the shop closes then, or until midnight where it is shut; what sleeps until a day wakes when the
shop opens then.
"""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

from triagebot.conversation.enquiries.clock import Clock, in_numbers, on_day, read_clock
from triagebot.counter.words import StaffWords
from triagebot.shop import Hours, fold

#: Nothing sleeps longer, or for less.
MOST, LEAST = timedelta(days=60), timedelta(minutes=1)

#: No time is said in more words, with all that says nothing.
MOST_WORDS = 24
#: Before this hour it is night.
_MORNING = 6
#: When a day begins on which the shop is shut; and a day and its morning are so many words.
_STARTS, _DAY = 9, 2
#: What stands before a day of the next week.
_NEXT_WEEK = "next-week "
_MUCH = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_]+)")


def awake(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """Until when something sleeps: as `until`, but a bare day, or its morning, ends that when the shop opens, or at
    nine where it is shut."""
    said = _plain(words, text).split()
    said = said[1:] if said[:1] and fold(said[0]) in words.times["until"] else said
    tomorrow = bool(said) and fold(said[0]) in words.times["tomorrow"]
    weekday = _weekday(words, said[0]) if said else None
    begins_so = said[1:] == [] or (len(said) == _DAY and fold(said[1]) in words.times["begins"])
    if not begins_so or (weekday is None and not (tomorrow and said[1:])):
        return until(words, text, now, hours)
    day = now.astimezone(hours.zone).date()
    day += timedelta(days=1 if weekday is None else (weekday - day.weekday() - 1) % 7 + 1)
    begins = datetime.combine(day, time(), tzinfo=hours.zone)
    opening = _opening(begins - timedelta(microseconds=1), hours)
    at_nine = datetime.combine(day, time(_STARTS), tzinfo=hours.zone)
    return (opening if opening is not None and opening < begins + timedelta(days=1) else at_nine).astimezone(UTC)


def closing_of(moment: datetime, now: datetime, hours: Hours) -> datetime:
    """When the shop closes on the day of a moment, or the end of that day where it is shut; in UTC."""
    return _closing(moment.astimezone(hours.zone).date(), now, hours).astimezone(UTC)


def until(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """The moment that a text means, in UTC; None where it means none, or none that comes within `MOST`."""
    return _until(words, text, now, hours) if text.count(" ") < MOST_WORDS else None


@lru_cache(maxsize=256)  # one line is looked through for its times again and again
def _until(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    found = _moment(words, _plain(words, text), now, hours)
    if found is None or not LEAST <= found - now <= MOST:
        return None
    return found.astimezone(UTC)


@lru_cache(maxsize=8)
def words_of_time(words: StaffWords) -> frozenset[str]:
    """The words that a time is said in, beside figures."""
    clock = words.clock
    spoken = (clock.at, clock.half, clock.minutes, clock.past, clock.to, clock.oclock, clock.am, clock.pm, clock.noon)
    said = (*words.times.values(), *words.weekdays, words.times_said, *spoken, clock.hours)
    return frozenset(word for phrases in said for phrase in phrases for word in fold(phrase).split())


def _plain(words: StaffWords, text: str) -> str:
    """The words of a time without those that say nothing, and a spoken time of day in numbers."""
    said = " ".join(text.lower().replace("’", "").replace("'", "").split())
    said = re.sub(r",(?!\d)", " ", said)
    said = _of_next_week(words, said)
    for phrase in words.times["says-nothing"]:
        if phrase in said:
            said = re.sub(rf"(?:^|(?<=\s)){re.escape(phrase)}(?=\s|$)", " ", said)
    parts = "|".join(map(re.escape, words.times["parts-of-day"]))
    said = re.sub(rf"\b(?:{parts}) (?:at )?(?=\d)", "", said)  # "tuesday afternoon 2pm"
    said = in_numbers(" ".join(words.times_said.get(word, word) for word in said.split()), words.clock)
    return " ".join(_in_digits(words, word) for word in said.split())


def _of_next_week(words: StaffWords, said: str) -> str:
    """ "fri next week", "next week on friday": the week that begins on Monday, with a sign for it before the day."""
    phrase = next((p for p in words.times["next-week"] if f" {p} " in f" {said} "), None)
    if phrase is None:
        return said
    left = f" {said} ".replace(f" {phrase} ", " ", 1).split()
    place = next((n for n, word in enumerate(left) if _weekday(words, word) is not None), None)
    if place is None:
        return said
    kept = [word for word in left[:place] if word not in words.times["week-on"]]
    return " ".join([*kept, _NEXT_WEEK.strip(), *left[place:]])


def _in_digits(words: StaffWords, word: str) -> str:
    """A number of hours, minutes or days in words."""
    return str(words.clock.hours.index(word) + 1) if word in words.clock.hours else word


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
        kind = next((k for k in ("minutes", "hours", "days", "weeks") if unit in words.times[k]), None)
        if kind is None or amount > 10_000:
            return None
        much += timedelta(**{kind: amount})
        rest = rest.strip()[match.end() :]
    return now + much if much and not rest.strip() else None


def _at(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    if (known := _phrase(words, text, now, hours)) is not None:
        return known
    text, later = _weeks_later(words, text)
    next_week, text = text.startswith(_NEXT_WEEK), text.removeprefix(_NEXT_WEEK)
    first, _, rest = text.partition(" ")
    day = now.astimezone(hours.zone).date() + later
    weekday = _weekday(words, first)
    if weekday is not None or fold(first) in words.times["tomorrow"]:
        if weekday is not None and next_week:
            day += timedelta(days=7 - day.weekday() + weekday)
        else:
            day += timedelta(days=1 if weekday is None else (weekday - day.weekday() - 1) % 7 + 1)
        if (known := _part_of(words, day, rest, now, hours, opens=weekday is None)) is not None:
            return known
        head, _, tail = rest.partition(" ")
        clock = read_clock(tail if fold(head) in words.times["until"] and tail else rest, words.clock)
        return _coming(day, clock, now, hours) if clock is not None else None
    clock = read_clock(text, words.clock)
    if clock is None:
        return None
    night = now.astimezone(hours.zone).hour < _MORNING and not clock.known
    found = on_day(day, clock, hours, ends=True)
    if night and (clock.minute or not hours.is_open(found - LEAST)):
        return _coming(day, replace(clock, known=True), now, hours)
    return _coming(day, clock, now, hours)


def _weeks_later(words: StaffWords, text: str) -> tuple[str, timedelta]:
    """ "friday week", "a week on friday", "tomorrow week": the day without the week, and that."""
    said = text.split()
    on = [word for word in said if word in words.times["week-on"]]
    days = [word for word in said if _weekday(words, word) is not None or fold(word) in words.times["tomorrow"]]
    weeks = [word for word in said if word in words.times["a-week"]]
    if len(days) != 1 or len(weeks) != 1 or (said.index(weeks[0]) > said.index(days[0]) + 1):
        return text, timedelta(0)
    left = [word for word in said if word not in (*on, *weeks)]
    counted = left[:1] == ["1"] and said.index(weeks[0]) < said.index(days[0])
    return " ".join(left[1:] if counted else left), timedelta(weeks=1)


def _coming(day: date, clock: Clock, now: datetime, hours: Hours) -> datetime:
    """The moment of a day that a time of day means, or of the day after where it is over; in UTC, since two times of
    one zone are compared by the wall."""
    found = on_day(day, clock, hours, ends=True).astimezone(UTC)
    return found if found > now else on_day(day + timedelta(days=1), clock, hours, ends=True).astimezone(UTC)


def _weekday(words: StaffWords, word: str) -> int | None:
    day = fold(word)
    return next((place for place, names in enumerate(words.weekdays) if day in names), None)


def _phrase(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """The moment that a whole phrase means: when we open or close, after the weekend, when they answer."""
    day, said = now.astimezone(hours.zone).date(), fold(text)
    if said in words.times["opening"]:
        return _opening(now, hours)
    if said in words.times["overnight"]:
        return _opening(datetime.combine(day + timedelta(days=1), time(), tzinfo=hours.zone), hours)
    if said in words.times["weekend"]:
        ends = datetime.combine(day + timedelta(days=7 - day.weekday()), time(), tzinfo=hours.zone)
        return _opening(ends - timedelta(microseconds=1), hours)
    if said in words.times["answers"]:
        return now + MOST
    return _closing(day, now, hours) if said in words.times["closing"] else None


def _part_of(words: StaffWords, day: date, text: str, now: datetime, hours: Hours, *, opens: bool) -> datetime | None:
    """The end of a part of a day; of a day without more, when the shop `opens` or else closes then."""
    said = fold(text)
    if not said and opens:
        return _opening(datetime.combine(day, time(), tzinfo=hours.zone) - timedelta(microseconds=1), hours)
    if not said or said in words.times["closing"]:
        return _closing(day, now, hours)
    if said in words.times["before-noon"]:
        return datetime.combine(day, time(12), tzinfo=hours.zone)
    return None


def _opening(now: datetime, hours: Hours) -> datetime | None:
    opening = hours.next_opening(now)
    return None if opening is None else opening.opens


def _closing(day: date, now: datetime, hours: Hours) -> datetime:
    """When the shop closes for the last time on a day that is to come or has begun; the last minute of a day on which
    it is closed."""
    end = datetime.combine(day + timedelta(days=1), time(), tzinfo=hours.zone)
    at, last = max(now, datetime.combine(day, time(), tzinfo=hours.zone)), None
    opening = hours.opening_at(at) or hours.next_opening(at)
    while opening is not None and opening.opens < end:
        last, opening = opening.closes, hours.next_opening(opening.closes)
    return end - timedelta(minutes=1) if last is None else min(last, end)
