"""When somebody wants to come, as they say it: in the shop's own time, also across a change of clocks."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.conversation.enquiries import load_enquiries, shop_hours
from triagebot.conversation.enquiries.clock import clock_words
from triagebot.conversation.enquiries.named_days import days_named, names_a_day
from triagebot.conversation.enquiries.when import When, when_said
from triagebot.shop import fold
from triagebot.shop.day_parts import open_parts, part_at
from triagebot.shop.schema import Visits

LONDON = ZoneInfo("Europe/London")
#: A Thursday, on which the example shop is open from 15:00 to 20:00.
NOW = datetime(2026, 3, 5, 14, 30, tzinfo=LONDON)


def said(text: str, now: datetime = NOW) -> When | None:
    guide = shipped_guide()
    known, keys = load_enquiries("en", guide.topic.folder), fold(text).split()
    days = days_named(shop_hours.today(guide, now), known.days, keys)
    named = names_a_day(known.days, keys)
    return when_said(text, known.times, clock_words("en"), days, named=named, now=now, hours=guide.shop.hours)


@pytest.mark.parametrize(
    ("text", "day", "part", "clock"),
    [
        ("can I come at five?", 5, "evening", "17:00"),
        ("can I come at 5pm?", 5, "evening", "17:00"),
        ("around half past four", 5, "afternoon", "16:30"),
        ("at half five", 5, "evening", "17:30"),
        ("quarter past four", 5, "afternoon", "16:15"),
        ("ten to 5 tomorrow", 6, "afternoon", "16:50"),
        ("at 16:15", 5, "afternoon", "16:15"),
        ("at 4.15", 5, "afternoon", "16:15"),
        ("at 2?", 6, "afternoon", "14:00"),  # it is past two
        ("at noon", 6, "afternoon", "12:00"),
        ("five o'clock", 5, "evening", "17:00"),
        ("tomorrow at ten", 6, "morning", "10:00"),
        ("on friday at 10", 6, "morning", "10:00"),
        ("at ten", 6, "morning", "10:00"),
        ("saturday morning", 7, "morning", None),
        ("this afternoon", 5, "afternoon", None),
        ("tonight", 5, "evening", None),
        ("on thursday at two", 12, "afternoon", "14:00"),  # today's two o'clock is over
        ("on thursday at four", 5, "afternoon", "16:00"),
        ("friday", 6, None, None),
    ],
)
def test_a_time_as_people_say_it(text: str, day: int, part: str | None, clock: str | None) -> None:
    when = said(text)
    assert when is not None
    assert (when.day, when.part) == (date(2026, 3, day), part)
    assert (when.moment.strftime("%H:%M") if when.moment is not None else None) == clock


@pytest.mark.parametrize("text", ["can I come by?", "it has 12 splines", "4 notches, 40 mm", "I have five of them"])
def test_what_names_no_time_is_none(text: str) -> None:
    assert said(text) is None


def test_it_is_the_shops_time_that_counts() -> None:
    """Five in the afternoon on the Saturday before the clocks go forward, and two days after."""
    before = said("on saturday at four", datetime(2026, 3, 27, 12, tzinfo=LONDON))
    after = said("on tuesday at five", datetime(2026, 3, 27, 12, tzinfo=LONDON))
    assert before is not None
    assert after is not None
    assert before.moment is not None
    assert after.moment is not None
    assert [moment.utcoffset().total_seconds() for moment in (before.moment, after.moment)] == [0, 3600]  # type: ignore[union-attr]


def test_the_parts_of_a_day_are_those_in_which_the_shop_is_open() -> None:
    hours, visits = shipped_guide().shop.hours, Visits(morning=2, afternoon=3, evening=1)

    def parts(day: int) -> list[tuple[str, str, str, int]]:
        found = open_parts(hours, visits, date(2026, 3, day))
        return [(p.part, p.opens.strftime("%H:%M"), p.closes.strftime("%H:%M"), p.places) for p in found]

    assert parts(5) == [("afternoon", "15:00", "17:00", 3), ("evening", "17:00", "20:00", 1)]
    assert parts(6) == [
        ("morning", "10:00", "12:00", 2), ("afternoon", "12:00", "17:00", 3), ("evening", "17:00", "18:00", 1)
    ]  # fmt: skip
    assert parts(9) == []  # a Monday
    assert part_at(NOW.replace(hour=11, minute=59)) == "morning"
    assert part_at(NOW.replace(hour=17, minute=0)) == "evening"
