"""A time of day as people say it, to the shop and in it: "half 4", "quarter past two", "3pm", "15.00", "five".

Rules of this file:
- "am" or "pm", an hour above twelve and a nought before the hour say which half of the day is meant;
- any other hour is the one at which the shop is open, where only one is; else the one after noon, up to seven;
- the caller decides whether a number can be a time of day, by what stands around it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property, lru_cache
from pathlib import Path

from triagebot.shop import Hours
from triagebot.topics import read_yaml

_WORDS = Path(__file__).resolve().parent / "words"
_FALLBACK = "en"
_HOURS, _NOON, _HOUR = 24, 12, 60
#: A bare hour up to this one is one after noon, if the shop is open at neither or at both.
_AFTER_NOON = 7
#: A shop that closes at an hour is open until then, and not at it.
_JUST_BEFORE = timedelta(minutes=1)
_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(?:\s?([^\W\d_]+))?")


@dataclass(frozen=True, eq=False)
class ClockWords:
    """How people say a time of day: `hours` are the words for one to twelve, in order; `minutes` those that stand
    before an hour, with `past` or `to` between, and `half` those of them that need neither."""

    at: tuple[str, ...]
    half: tuple[str, ...]
    minutes: Mapping[str, int]
    past: tuple[str, ...]
    to: tuple[str, ...]
    oclock: tuple[str, ...]
    am: tuple[str, ...]
    pm: tuple[str, ...]
    noon: tuple[str, ...]
    hours: tuple[str, ...]

    @cached_property
    def spoken(self) -> re.Pattern[str]:
        """Minutes before an hour, with no unit behind it ("half 1 hr")."""
        between, hours = "|".join((*self.past, *self.to)), "|".join(self.hours)
        return re.compile(rf"\b({'|'.join(self.minutes)})(?: ({between}))? (\d{{1,2}}|{hours})\b(?! ?h|[:.]\d)")


@dataclass(frozen=True, slots=True)
class Clock:
    """A time of day; `known`: it was said which half of the day is meant."""

    hour: int
    minute: int = 0
    known: bool = False


@lru_cache(maxsize=8)
def clock_words(language: str) -> ClockWords:
    """The words of a language, or of English where there are none. Raises DataError for a file that cannot be read."""
    path = _WORDS / f"{language.partition('-')[0]}.clock.yaml"
    found, _ = read_yaml(path if path.is_file() else _WORDS / f"{_FALLBACK}.clock.yaml")
    minutes = {str(word): int(number) for word, number in found.pop("minutes").items()}
    return ClockWords(minutes=minutes, **{name: tuple(map(str, words)) for name, words in found.items()})


def in_numbers(text: str, words: ClockWords) -> str:
    """A text with each time that is said in words in numbers: "quarter past two" is "2:15"."""
    return words.spoken.sub(lambda match: _minutes(match, words), text)


def _minutes(match: re.Match[str], words: ClockWords) -> str:
    minutes, between = words.minutes[match[1]], match[2]
    hour = int(match[3]) if match[3].isdecimal() else words.hours.index(match[3]) + 1
    if (between is None and match[1] not in words.half) or not 0 < hour < _HOURS:
        return match[0]
    if between in words.to:
        return f"{(hour - 2) % _NOON + 1 if hour <= _NOON else hour - 1}:{_HOUR - minutes:02}"
    return f"{hour}:{minutes:02}"


def read_clock(text: str, words: ClockWords) -> Clock | None:
    """The time of day that a text is, and nothing else; None for any other."""
    if text in words.noon:
        return Clock(_NOON, known=True)
    if text in words.hours:
        return Clock(words.hours.index(text) + 1)
    match = _CLOCK.fullmatch(text)
    if match is None:
        return None
    hour, minute, half = int(match[1]), int(match[2] or 0), match[3]
    if hour >= _HOURS or minute >= _HOUR:
        return None
    if half is None:
        return Clock(hour, minute, known=hour > _NOON or text.startswith("0"))
    if half not in (*words.am, *words.pm) or not 1 <= hour <= _NOON:
        return None
    return Clock(hour % _NOON + _NOON * (half in words.pm), minute, known=True)


def on_day(day: date, clock: Clock, hours: Hours, *, ends: bool = False) -> datetime:
    """The moment of a day that is meant, in the shop's zone. `ends`: something lasts until then, and the shop may
    close at that moment."""
    said = datetime.combine(day, time(clock.hour, clock.minute), tzinfo=hours.zone)
    if clock.known:
        return said
    other = datetime.combine(day, time((clock.hour + _NOON) % _HOURS, clock.minute), tzinfo=hours.zone)
    before = _JUST_BEFORE if ends else timedelta(0)
    open_then, open_other = hours.is_open(said - before), hours.is_open(other - before)
    if open_then != open_other:
        return said if open_then else other
    return other if clock.hour <= _AFTER_NOON else said
