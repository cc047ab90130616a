"""When a shop is open.

Rules of this file:
- Hours are wall-clock times in the shop's zone, a weekday: "09:00-12:30, 13:30-18:00". A closing time that is not
  later than its opening time is on the next day ("22:00-02:00"); "24:00" is midnight at the end of the day.
- A closed date cancels the openings that begin on it; an opening that began the evening before still runs to its end.
- Where the clocks change: a time that is skipped counts as so many minutes after the change; of a time that comes
  twice, the first opens and the second closes, so that nobody stands before a door sooner than announced.
- An opening time belongs to the opening, a closing time does not: at 18:00 sharp the shop is shut.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property, lru_cache
from itertools import chain, pairwise
from zoneinfo import ZoneInfo

DAY = 24 * 60
#: How far ahead the next opening is looked for, in days: a shop that is shut for longer has none.
HORIZON = 400
#: How many days openings that touch (day and night) are followed back, and forward while the shop is open.
LOOK_BACK = 15

_SPAN = re.compile(r"(\d{1,2})[:.](\d{2})\s*[-–]\s*(\d{1,2})[:.](\d{2})")


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """One opening of a weekday, in minutes after that day's midnight; `closes` may lie past 1440."""

    opens: int
    closes: int


@dataclass(frozen=True, slots=True)
class Closure:
    """Dates, both included, on which no opening begins, and why."""

    first: date
    last: date
    reason: str


@dataclass(frozen=True, slots=True)
class Opening:
    """From when until when the shop is open, in the shop's zone.

    Compare with other moments in UTC: Python compares two times of one zone by the wall clock, whatever their fold.
    """

    opens: datetime
    closes: datetime


def parse_spans(text: str) -> tuple[Span, ...]:
    """Read "09:00-12:30, 13:30-18:00", in any order. Nothing at all, or "closed", gives ().

    Raises ValueError for anything else, for a time past 24:00 and for openings that overlap.
    """
    if text.strip().casefold() in ("", "closed"):
        return ()
    spans = sorted(_span(part.strip()) for part in text.split(","))
    for before, after in pairwise(spans):
        if after.opens < before.closes:
            raise ValueError(f"the openings {show(before)} and {show(after)} overlap")
    return tuple(spans)


def show(span: Span) -> str:
    """A span as it is written in the file."""
    opens, closes = span.opens, span.closes if span.closes <= DAY else span.closes - DAY
    return f"{opens // 60:02}:{opens % 60:02}-{closes // 60:02}:{closes % 60:02}"


def overlapping_days(week: tuple[tuple[Span, ...], ...]) -> tuple[tuple[int, Span, Span], ...]:
    """Openings that run over midnight into one of the next day: that day (Monday is 0) and the two spans."""
    found: list[tuple[int, Span, Span]] = []
    for day, spans in enumerate(week):
        night = max(week[day - 1], key=lambda span: span.closes, default=None)
        if night is not None:
            found += [(day, night, span) for span in spans if span.opens + DAY < night.closes]
    return tuple(found)


@dataclass(frozen=True)
class Hours:
    """The openings of a week (Monday first) and the dates that are closed. Every `now` must carry its zone."""

    zone: ZoneInfo
    week: tuple[tuple[Span, ...], ...]
    closures: tuple[Closure, ...] = ()

    @cached_property
    def _hash(self) -> int:
        return hash((self.zone, self.week, self.closures))

    def __hash__(self) -> int:
        return self._hash

    def is_open(self, now: datetime) -> bool:
        return self.opening_at(now) is not None

    def opening_at(self, now: datetime) -> Opening | None:
        """The opening that `now` falls into, if any; openings that touch are one. ValueError without a zone.

        A shop that never shuts closes `LOOK_BACK` days from now, as far as one looks.
        """
        moment = _utc(now)
        for opening in _openings_around(self, now.astimezone(self.zone).date()):
            if opening.opens <= moment < opening.closes:
                return self._local(opening)
        return None

    def next_opening(self, now: datetime) -> Opening | None:
        """The first opening that begins after `now`, within `HORIZON` days. ValueError without a zone."""
        moment = _utc(now)
        today = now.astimezone(self.zone).date()
        around = _openings_around(self, today)[:-1]  # the last may go on beyond what was looked at
        for opening in chain(around, self._openings(today, HORIZON)):
            if opening.opens > moment:
                return self._local(opening)
        return None

    def _closure(self, day: date) -> Closure | None:
        return next((c for c in self.closures if c.first <= day <= c.last), None)

    def _openings(self, today: date, ahead: int) -> Iterator[Opening]:
        """From `LOOK_BACK` days before today to `ahead` days after it, in order and in UTC, those that touch joined."""
        waiting: Opening | None = None
        for single in self._single_openings(today, ahead):
            if waiting is None:
                waiting = single
            elif single.opens <= waiting.closes:
                waiting = Opening(waiting.opens, max(waiting.closes, single.closes))
            else:
                yield waiting
                waiting = single
        if waiting is not None:
            yield waiting

    def _single_openings(self, today: date, ahead: int) -> Iterator[Opening]:
        for offset in range(-LOOK_BACK, ahead + 1):
            try:
                day = today + timedelta(days=offset)
                spans = () if self._closure(day) else self.week[day.weekday()]
                openings = _openings_of(self.zone, tuple(spans), day)
            except OverflowError:  # the calendar has no such day
                continue
            yield from (o for o in openings if o.opens < o.closes)

    def _local(self, opening: Opening) -> Opening:
        return Opening(opening.opens.astimezone(self.zone), opening.closes.astimezone(self.zone))


@lru_cache(maxsize=256)
def _openings_around(hours: Hours, today: date) -> tuple[Opening, ...]:
    """Those of the days around one, joined and in UTC. Kept, since a question about a visit asks for the same days many
    times."""
    return tuple(hours._openings(today, LOOK_BACK))


@lru_cache(maxsize=2048)
def _openings_of(zone: ZoneInfo, spans: tuple[Span, ...], day: date) -> tuple[Opening, ...]:
    """Those that begin on a day, in UTC. Kept, since one question about a visit looks at the same weeks many times."""
    return tuple(Opening(_moment(zone, day, s.opens, 0), _moment(zone, day, s.closes, 1)) for s in spans)


def _moment(zone: ZoneInfo, day: date, minutes: int, fold: int) -> datetime:
    """A wall-clock time of the shop in UTC; `fold` says which of two equal times is meant."""
    day += timedelta(days=minutes // DAY)
    wall = time(minutes % DAY // 60, minutes % 60, fold=fold)
    local = datetime.combine(day, wall, tzinfo=zone)
    return _utc(local if _exists(local) else local.replace(fold=0))


def _span(text: str) -> Span:
    match = _SPAN.fullmatch(text)
    if match is None:
        raise ValueError(f"write hours like 09:00-12:30, 13:30-18:00, not {text!r}")
    hour, minute, end_hour, end_minute = (int(part) for part in match.groups())
    opens, closes = hour * 60 + minute, end_hour * 60 + end_minute
    if minute > 59 or end_minute > 59 or opens >= DAY or closes > DAY:
        raise ValueError(f"{text!r} holds a time that no clock shows")
    return Span(opens, closes if closes > opens else closes + DAY)


def _exists(local: datetime) -> bool:
    """Whether the wall clock shows this time on that day (not skipped by a change of clocks)."""
    return _utc(local).astimezone(local.tzinfo).replace(tzinfo=None) == local.replace(tzinfo=None)


def _utc(moment: datetime) -> datetime:
    if moment.utcoffset() is None:
        raise ValueError("a moment without a time zone says nothing about when a shop is open")
    return moment.astimezone(UTC)
