"""Until when: "2h", "90 min", "until 15:00", "until we open", "tomorrow 9:30", "until fri", "tonight".

A time of day is the shop's, the next one that comes; one that a change of clocks leaves out is the moment at which the
clocks are put on. A bare hour ("until 5") is the one at which the shop is open, where only one is. A bare day lasts
until the shop closes then, or until midnight where it is shut; what sleeps until a day wakes when the shop opens then.
"""

import re
from datetime import UTC, date, datetime, time, timedelta

from triagebot.counter.words import StaffWords
from triagebot.shop import Hours, fold

#: Nothing sleeps longer, or for less.
MOST, LEAST = timedelta(days=60), timedelta(minutes=1)

#: "quarter past 2", "half 4", "ten to 6".
_SPOKEN = re.compile(r"\b(quarter|half|five|ten|twenty)(?: (past|to))? (\d{1,2})\b(?! h)")
_PAST = {"quarter": 15, "half": 30, "five": 5, "ten": 10, "twenty": 20}
#: Numbers of hours that are spoken of as minutes, too.
_SPELT_AS = {"five": "5", "ten": "10"}
_SPELT = re.compile(r"\b(?:five|ten)\b(?! (?:past|to)\b)")
_HOUR, _NOON = 60, 12
#: An hour up to this one is after noon where the shop is open neither way.
_EARLY = 7
_MORNING = 6
#: When a day begins on which the shop is shut; and "until" and a weekday are so many words.
_STARTS, _DAY = 9, 2
_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?:\s?([^\W\d_]+))?")
_MUCH = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_]+)")


def awake(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """Until when something sleeps: as `until`, but a bare day ends that when the shop opens, or at nine where it is
    shut."""
    said = _plain(words, text).split()
    first = said[1:2] if said[:1] and fold(said[0]) in words.times["until"] else said[:1]
    weekday = _weekday(words, first[0]) if len(said) <= _DAY and first and first[0] == said[-1] else None
    if weekday is None:
        return until(words, text, now, hours)
    day = now.astimezone(hours.zone).date()
    day += timedelta(days=(weekday - day.weekday() - 1) % 7 + 1)
    begins = datetime.combine(day, time(), tzinfo=hours.zone)
    opening = _opening(begins - timedelta(microseconds=1), hours)
    at_nine = datetime.combine(day, time(_STARTS), tzinfo=hours.zone)
    return (opening if opening is not None and opening < begins + timedelta(days=1) else at_nine).astimezone(UTC)


def closing_of(moment: datetime, now: datetime, hours: Hours) -> datetime:
    """When the shop closes on the day of a moment, or the end of that day where it is shut; in UTC."""
    return _closing(moment.astimezone(hours.zone).date(), now, hours).astimezone(UTC)


def until(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """The moment that a text means, in UTC; None where it means none, or none that comes within `MOST`."""
    found = _moment(words, _plain(words, text), now, hours)
    if found is None or not LEAST <= found - now <= MOST:
        return None
    return found.astimezone(UTC)


def _plain(words: StaffWords, text: str) -> str:
    """The words of a time without those that say nothing, and a spoken time of day in numbers."""
    said = " ".join(text.lower().replace("’", "").replace("'", "").split())
    said = re.sub(r",(?!\d)", " ", said)
    for phrase in words.times["says-nothing"]:
        said = re.sub(rf"(?:^|(?<=\s)){re.escape(phrase)}(?=\s|$)", " ", said)
    said = " ".join(words.times_said.get(word, word) for word in said.split())
    return _SPELT.sub(lambda match: _SPELT_AS[match[0]], _SPOKEN.sub(_in_numbers, said))


def _in_numbers(match: re.Match[str]) -> str:
    minutes, hour = _PAST[match[1]], int(match[3])
    if match[2] is None and match[1] != "half":
        return match[0]
    return f"{hour}:{minutes:02}" if match[2] != "to" else f"{(hour - 2) % 12 + 1}:{_HOUR - minutes:02}"


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
    first, _, rest = text.partition(" ")
    day = now.astimezone(hours.zone).date()
    weekday = _weekday(words, first)
    if weekday is not None or fold(first) in words.times["tomorrow"]:
        day += timedelta(days=1 if weekday is None else (weekday - day.weekday() - 1) % 7 + 1)
        if (known := _part_of(words, day, rest, now, hours, opens=weekday is None)) is not None:
            return known
        head, _, tail = rest.partition(" ")
        clock = _clock(words, tail if fold(head) in words.times["until"] and tail else rest)
    else:
        text = "12:00" if fold(text) in words.times["noon"] else text
        if (later := _after_noon(day, text, hours, now)) is not None:
            return later
        clock = _clock(words, text)
    if clock is None:
        return None
    if weekday is not None or fold(first) in words.times["tomorrow"]:
        clock = _on_a_day(day, clock, rest, hours)
    # Through UTC, since two times of one zone are compared by the wall.
    found = datetime.combine(day, clock, tzinfo=hours.zone).astimezone(UTC)
    if found <= now.astimezone(UTC):
        found = datetime.combine(day + timedelta(days=1), clock, tzinfo=hours.zone).astimezone(UTC)
    return found


def _on_a_day(day: date, clock: time, text: str, hours: Hours) -> time:
    """The time of day that is meant on a day: "tomorrow 4" is after noon where the shop is open only then."""
    last = text.rsplit(maxsplit=1)[-1]
    bare = not any(letter.isalpha() for letter in last) and not last.startswith("0")
    if not bare or not 1 <= clock.hour < _NOON:
        return clock
    later = clock.replace(hour=clock.hour + _NOON)
    early, late = (datetime.combine(day, each, tzinfo=hours.zone) - LEAST for each in (clock, later))
    shut = not hours.is_open(late) and clock.hour < _EARLY
    return later if (hours.is_open(late) or shut) and not hours.is_open(early) else clock


def _weekday(words: StaffWords, word: str) -> int | None:
    return next((place for place, names in enumerate(words.weekdays) if fold(word) in names), None)


def _phrase(words: StaffWords, text: str, now: datetime, hours: Hours) -> datetime | None:
    """The moment that a whole phrase means: when we open or close, after the weekend, when they answer."""
    day, said = now.astimezone(hours.zone).date(), fold(text)
    if said in words.times["opening"]:
        return _opening(now, hours)
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


def _after_noon(day: date, text: str, hours: Hours, now: datetime) -> datetime | None:
    """The time of day after noon that an hour of a clock face means: one at which the shop is open, or up to seven
    where it is open neither then nor before noon. None for any other text, and for one that is past; at night, a time
    with minutes is the next one."""
    hour, _, minutes = text.replace(".", ":").partition(":")
    if not (hour.isdecimal() and 1 <= int(hour) <= 11 and (not minutes or minutes.isdecimal())) or hour.startswith("0"):
        return None
    if minutes and now.astimezone(hours.zone).hour < _MORNING:
        return None
    early = datetime.combine(day, time(int(hour), int(minutes or 0) % _HOUR), tzinfo=hours.zone)
    later = datetime.combine(day, time(int(hour) + 12, early.minute), tzinfo=hours.zone)
    neither = not hours.is_open(early - LEAST) and early.hour <= _EARLY and not hours.is_open(later - LEAST)
    return later if later > now and (hours.is_open(later - LEAST) or (neither and early <= now)) else None


def _closing(day: date, now: datetime, hours: Hours) -> datetime:
    """When the shop closes for the last time on a day that is to come or has begun; the last minute of a day on which
    it is closed."""
    end = datetime.combine(day + timedelta(days=1), time(), tzinfo=hours.zone)
    at, last = max(now, datetime.combine(day, time(), tzinfo=hours.zone)), None
    opening = hours.opening_at(at) or hours.next_opening(at)
    while opening is not None and opening.opens < end:
        last, opening = opening.closes, hours.next_opening(opening.closes)
    return end - timedelta(minutes=1) if last is None else min(last, end)


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
