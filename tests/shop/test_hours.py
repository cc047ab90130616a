"""Opening hours: lunch, midnight, closed dates, and the hours at which the clocks change.

The dates of the changes are those of the time zone database for Europe: on 29 March 2026 01:00 UTC the clocks go
forward, on 25 October 2026 01:00 UTC they go back.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.shop import Closure, Hours, Span
from triagebot.shop.hours import overlapping_days, parse_spans, show

BERLIN = ZoneInfo("Europe/Berlin")
MONDAY, SATURDAY, SUNDAY = 0, 5, 6


def hours(days: dict[int, str], *closures: Closure, zone: ZoneInfo = BERLIN) -> Hours:
    return Hours(zone, tuple(parse_spans(days.get(day, "")) for day in range(7)), closures)


def local(text: str, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("", ()),
        ("closed", ()),
        ("9:00-12:30", ((540, 750),)),
        ("13.30 – 18.00, 09:00-12:30", ((540, 750), (810, 1080))),
        ("22:00-02:00", ((1320, 1560),)),
        ("18:00-24:00", ((1080, 1440),)),
        ("00:00-24:00", ((0, 1440),)),
        ("00:00-00:00", ((0, 1440),)),
    ],
)
def test_hours_are_read_as_they_are_written(text: str, spans: tuple[tuple[int, int], ...]) -> None:
    assert parse_spans(text) == tuple(Span(*span) for span in spans)


@pytest.mark.parametrize("text", ["9-17", "25:00-26:00", "24:00-25:00", "09:00-12:60", "09:00", "09:00-10:00,", "x"])
def test_what_no_clock_shows_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"write hours like|no clock shows"):
        parse_spans(text)


def test_openings_of_one_day_may_touch_but_not_overlap() -> None:
    assert len(parse_spans("09:00-12:00, 12:00-15:00")) == 2
    with pytest.raises(ValueError, match="overlap"):
        parse_spans("09:00-12:01, 12:00-15:00")


def test_a_night_may_not_run_into_the_next_day_s_opening() -> None:
    week = hours({SUNDAY: "22:00-09:30", MONDAY: "09:00-12:00"}).week
    assert [(day, show(night), show(span)) for day, night, span in overlapping_days(week)] == [
        (MONDAY, "22:00-09:30", "09:00-12:00")
    ]
    assert overlapping_days(hours({SUNDAY: "22:00-09:00", MONDAY: "09:00-12:00"}).week) == ()


# 2026-11-23 is a Monday.
LUNCH = {MONDAY: "09:00-12:30, 13:30-18:00"}
NIGHT = {SATURDAY: "22:00-02:00"}


@pytest.mark.parametrize(
    ("days", "now", "is_open", "opens", "closes"),
    [
        (LUNCH, "2026-11-23T08:59:59", False, "2026-11-23T09:00", None),
        (LUNCH, "2026-11-23T09:00:00", True, "2026-11-23T13:30", "2026-11-23T12:30"),
        (LUNCH, "2026-11-23T12:29:59", True, "2026-11-23T13:30", "2026-11-23T12:30"),
        (LUNCH, "2026-11-23T12:30:00", False, "2026-11-23T13:30", None),
        (LUNCH, "2026-11-23T18:00:00", False, "2026-11-30T09:00", None),
        (LUNCH, "2026-11-24T12:00:00", False, "2026-11-30T09:00", None),
        (NIGHT, "2026-11-28T23:59:59", True, "2026-12-05T22:00", "2026-11-29T02:00"),
        (NIGHT, "2026-11-29T01:59:59", True, "2026-12-05T22:00", "2026-11-29T02:00"),
        (NIGHT, "2026-11-29T02:00:00", False, "2026-12-05T22:00", None),
        (
            {SATURDAY: "18:00-24:00", SUNDAY: "00:00-02:00"},
            "2026-11-28T20:00",
            True,
            "2026-12-05T18:00",
            "2026-11-29T02:00",
        ),
        ({MONDAY: "09:00-12:00, 12:00-15:00"}, "2026-11-23T10:00", True, "2026-11-30T09:00", "2026-11-23T15:00"),
        ({}, "2026-11-23T10:00", False, None, None),
    ],
)
def test_open_or_not_and_what_comes_next(
    days: dict[int, str], now: str, is_open: bool, opens: str | None, closes: str | None
) -> None:
    shop, moment = hours(days), local(now)
    assert shop.is_open(moment) is is_open
    opening, following = shop.opening_at(moment), shop.next_opening(moment)
    assert (opening.closes if opening else None) == (local(closes) if closes else None)
    assert (following.opens if following else None) == (local(opens) if opens else None)


def test_a_moment_in_another_zone_is_the_same_moment() -> None:
    shop = hours(LUNCH)
    assert shop.is_open(datetime(2026, 11, 23, 8, 0, tzinfo=UTC))
    assert not shop.is_open(datetime(2026, 11, 23, 7, 59, tzinfo=UTC))
    assert shop.is_open(datetime(2026, 11, 23, 23, 0, tzinfo=ZoneInfo("Pacific/Auckland")))


@pytest.mark.parametrize("ask", ["is_open", "opening_at", "next_opening"])
def test_a_moment_without_a_zone_is_refused(ask: str) -> None:
    with pytest.raises(ValueError, match="without a time zone"):
        getattr(hours(LUNCH), ask)(datetime(2026, 11, 23, 10, 0))


def test_closed_dates_cancel_the_openings_that_begin_on_them() -> None:
    closure = Closure(date(2026, 11, 29), date(2026, 12, 5), "stocktaking")
    shop = hours({**NIGHT, **LUNCH, SUNDAY: "10:00-12:00"}, closure)
    assert shop.is_open(local("2026-11-29T01:00")), "the night before runs to its end"
    assert not shop.is_open(local("2026-11-29T11:00"))
    assert not shop.is_open(local("2026-11-30T10:00"))
    assert not shop.is_open(local("2026-12-05T23:00"))
    following = shop.next_opening(local("2026-11-29T03:00"))
    assert following is not None
    assert following.opens == local("2026-12-06T10:00")


def test_a_closed_date_is_the_shop_s_own_date() -> None:
    always = dict.fromkeys(range(7), "00:00-24:00")
    shop = hours(always, Closure(date(2026, 11, 23), date(2026, 11, 23), "holiday"))
    assert shop.is_open(datetime(2026, 11, 22, 22, 30, tzinfo=UTC))
    assert not shop.is_open(datetime(2026, 11, 22, 23, 30, tzinfo=UTC))
    assert not shop.is_open(datetime(2026, 11, 23, 22, 30, tzinfo=UTC))
    assert shop.is_open(datetime(2026, 11, 23, 23, 30, tzinfo=UTC))


def test_a_shop_that_is_closed_for_longer_than_one_looks_ahead_has_no_next_opening() -> None:
    shop = hours(LUNCH, Closure(date(2026, 1, 1), date(2028, 12, 31), "moved"))
    assert shop.next_opening(local("2026-11-23T10:00")) is None


def test_spring_the_clock_skips_an_hour() -> None:
    shop = hours({SUNDAY: "01:00-04:00"})
    opening = shop.opening_at(datetime(2026, 3, 29, 0, 30, tzinfo=UTC))
    assert opening is not None
    assert opening.opens == datetime(2026, 3, 29, 0, 0, tzinfo=UTC)
    assert opening.closes == datetime(2026, 3, 29, 2, 0, tzinfo=UTC)
    assert not shop.is_open(datetime(2026, 3, 29, 2, 0, tzinfo=UTC))


def test_spring_a_time_that_is_skipped_counts_after_the_change() -> None:
    shop = hours({SUNDAY: "02:30-10:00"})
    assert not shop.is_open(datetime(2026, 3, 29, 1, 29, tzinfo=UTC))
    assert shop.is_open(datetime(2026, 3, 29, 1, 30, tzinfo=UTC))
    closes = hours({SUNDAY: "00:00-02:30"}).opening_at(datetime(2026, 3, 29, 0, 0, tzinfo=UTC))
    assert closes is not None
    assert closes.closes == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)


def test_spring_an_opening_that_the_change_swallows_is_none() -> None:
    shop = hours({SUNDAY: "02:00-03:00"})
    following = shop.next_opening(local("2026-03-28T12:00"))
    assert following is not None
    assert following.opens == local("2026-04-05T02:00")


def test_autumn_an_hour_comes_twice() -> None:
    shop = hours({SATURDAY: "22:00-02:30"})
    opening = shop.opening_at(datetime(2026, 10, 24, 23, 0, tzinfo=UTC))
    assert opening is not None
    assert opening.closes.astimezone(UTC) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC), "the second 02:30"
    assert opening.closes.astimezone(UTC) - opening.opens.astimezone(UTC) == timedelta(hours=5, minutes=30)
    early = hours({SUNDAY: "02:30-10:00"})
    assert early.is_open(datetime(2026, 10, 25, 0, 30, tzinfo=UTC)), "the first 02:30"


def test_hours_at_noon_stay_at_noon_over_both_changes() -> None:
    shop = hours(dict.fromkeys(range(7), "12:00-13:00"))
    for day, utc_hour in (("2026-03-28", 11), ("2026-03-29", 10), ("2026-10-24", 10), ("2026-10-25", 11)):
        opening = shop.next_opening(local(f"{day}T00:00"))
        assert opening is not None
        assert opening.opens.isoformat() == f"{day}T12:00:00{'+01:00' if utc_hour == 11 else '+02:00'}"


def test_a_shop_that_never_shuts_is_open_and_has_no_next_opening() -> None:
    shop = hours(dict.fromkeys(range(7), "00:00-24:00"))
    now = local("2026-10-25T02:30")
    opening = shop.opening_at(now)
    assert opening is not None
    assert opening.closes > now + timedelta(days=7)
    assert shop.next_opening(now) is None


def test_the_ends_of_the_calendar_raise_nothing() -> None:
    shop = hours(LUNCH, zone=ZoneInfo("UTC"))
    assert shop.next_opening(datetime.max.replace(tzinfo=UTC)) is None
    assert shop.next_opening(datetime.min.replace(tzinfo=UTC)) is not None


moments = st.datetimes(
    min_value=datetime(2026, 1, 1), max_value=datetime(2027, 12, 31), timezones=st.just(UTC), allow_imaginary=False
)


@given(now=moments, zone=st.sampled_from(["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kolkata"]))
def test_the_next_opening_is_open_when_it_begins_and_shut_a_moment_before(now: datetime, zone: str) -> None:
    shop = hours({**LUNCH, **NIGHT, SUNDAY: "01:30-02:15, 12:00-15:00"}, zone=ZoneInfo(zone))
    shop = Hours(shop.zone, tuple(s for s in shop.week), (Closure(date(2026, 6, 1), date(2026, 6, 14), "holiday"),))
    following = shop.next_opening(now)
    assert following is not None
    opens = following.opens.astimezone(UTC)
    assert opens > now
    assert shop.opening_at(opens) == following
    assert not shop.is_open(opens - timedelta(microseconds=1))
    opening = shop.opening_at(now)
    assert opening is None or opening.opens <= now < opening.closes.astimezone(UTC) <= opens
