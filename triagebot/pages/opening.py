"""When the shop is open, for the foot of every page: the week, and the dates on which it is closed soon."""

from dataclasses import dataclass
from datetime import date, timedelta

from babel.dates import format_date, get_day_names

from triagebot.conversation.wording import habits
from triagebot.shop import Shop
from triagebot.shop.hours import Closure, show
from triagebot.topics import Texts

#: Closed dates are told so many days before they begin.
AHEAD = 42


@dataclass(frozen=True, slots=True)
class Day:
    """A weekday by name, and its openings ("10:00–13:00, 14:00–18:00")."""

    name: str
    openings: str


def week(shop: Shop, texts: Texts) -> tuple[Day, ...]:
    """The weekdays on which the shop opens, from Monday on."""
    names = get_day_names("wide", locale=habits(texts))
    between = texts("list-between")
    return tuple(
        Day(str(names[place]), between.join(show(span).replace("-", "–") for span in spans))
        for place, spans in enumerate(shop.hours.week)
        if spans
    )


def closed_soon(shop: Shop, texts: Texts, today: date) -> tuple[str, ...]:
    """A line for each run of closed dates that is not over and begins soon."""
    soon = [each for each in shop.hours.closures if today <= each.last and each.first <= today + timedelta(days=AHEAD)]
    return tuple(_line(each, texts) for each in sorted(soon, key=lambda each: each.first))


def _line(closure: Closure, texts: Texts) -> str:
    first, last = (format_date(day, "d MMMM", locale=habits(texts)) for day in (closure.first, closure.last))
    if first == last:
        return texts("page-closed-on", day=first, reason=closure.reason)
    return texts("page-closed-from", first=first, last=last, reason=closure.reason)
