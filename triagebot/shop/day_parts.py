"""The parts of a day in which people may come: which there are, when the shop is open in them, and how many may come.

A part is that of the shop's own clock. A shop that is open for a while in a part has that part on that day.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Literal

from triagebot.shop.hours import Hours
from triagebot.shop.schema import Visits

Part = Literal["morning", "afternoon", "evening"]
#: Where each part begins; the last ends with the day.
PARTS: tuple[tuple[Part, time], ...] = (("morning", time(0)), ("afternoon", time(12)), ("evening", time(17)))


@dataclass(frozen=True, slots=True)
class OpenPart:
    """A part of a day, from when to when the shop is open in it, and how many may come then."""

    day: date
    part: Part
    opens: datetime
    closes: datetime
    places: int


def open_parts(hours: Hours, visits: Visits, day: date) -> Iterator[OpenPart]:
    """The parts of a day in which the shop is open and takes visits, in order."""
    for (part, begins), (_, ends) in zip(PARTS, (*PARTS[1:], ("", time(0))), strict=True):
        low = datetime.combine(day, begins, tzinfo=hours.zone)
        high = datetime.combine(day + timedelta(days=not ends.hour), ends, tzinfo=hours.zone)
        opening = hours.opening_at(low) or hours.next_opening(low)
        places: int = getattr(visits, part)
        if places and opening is not None and opening.opens < high:
            yield OpenPart(day, part, max(opening.opens, low), _last(hours, opening.closes, high), places)


def _last(hours: Hours, closes: datetime, high: datetime) -> datetime:
    """When the shop closes for the last time before the part ends, or its end."""
    while (more := hours.next_opening(closes)) is not None and more.opens < high:
        closes = more.closes
    return min(closes, high)


def part_at(moment: datetime) -> Part:
    """The part of the day of a moment on the shop's clock."""
    return next(part for part, begins in reversed(PARTS) if moment.time() >= begins)
