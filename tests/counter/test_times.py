"""Until when: amounts, times of day in the shop's zone, over midnight, weekends, holidays and changes of clocks."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conversation.guides import shipped_guide
from triagebot.counter.times import LEAST, MOST, awake, until
from triagebot.counter.words import staff_words

HOURS = shipped_guide().shop.hours
LONDON = ZoneInfo("Europe/London")
WORDS = staff_words("en")
#: A Tuesday; the shop opens at 15:00.
NOW = datetime(2026, 3, 3, 11, 30, tzinfo=LONDON)


def at(text: str, now: datetime = NOW) -> str | None:
    """The moment as the shop's clock shows it."""
    found = until(WORDS, text, now, HOURS)
    return None if found is None else f"{found.astimezone(LONDON):%Y-%m-%d %H:%M}"


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2h", "2026-03-03 13:30"),
        ("2 hours", "2026-03-03 13:30"),
        ("1.5h", "2026-03-03 13:00"),
        ("1,5 h", "2026-03-03 13:00"),
        ("1h 15m", "2026-03-03 12:45"),
        ("90 min", "2026-03-03 13:00"),
        ("for 30m", "2026-03-03 12:00"),
        ("half an hour", "2026-03-03 12:00"),
        ("3d", "2026-03-06 11:30"),
        ("until 15:00", "2026-03-03 15:00"),
        ("until 15.00", "2026-03-03 15:00"),
        ("till 3pm", "2026-03-03 15:00"),
        ("15:00", "2026-03-03 15:00"),
        ("until 9", "2026-03-04 09:00"),
        ("until 12 am", "2026-03-04 00:00"),
        ("until 12pm", "2026-03-03 12:00"),
        ("until we open", "2026-03-03 15:00"),
        ("tomorrow", "2026-03-04 10:00"),
        ("until tomorrow 9:30", "2026-03-04 09:30"),
        ("tomorrow at 9:30", "2026-03-04 09:30"),
        ("until 5", "2026-03-03 17:00"),
        ("until fri", "2026-03-06 18:00"),
        ("friday at 4pm", "2026-03-06 16:00"),
        ("until tue", "2026-03-10 20:00"),
        ("tonight", "2026-03-03 20:00"),
        ("until closing", "2026-03-03 20:00"),
        ("until noon", "2026-03-03 12:00"),
        ("until fri next week", "2026-03-13 18:00"),
        ("until next week on friday", "2026-03-13 18:00"),
        ("mon next week", "2026-03-09 23:59"),
    ],
)
def test_times_that_are_understood(text: str, moment: str) -> None:
    assert at(text) == moment


@pytest.mark.parametrize(
    "text",
    ["", "soon", "2", "25:00", "until 15:61", "13pm", "0h", "400d", "until", "2x", "99999999999h", "until 4n 40"],
)
def test_what_says_no_time(text: str) -> None:
    assert at(text) is None


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("fri", "2026-03-06 10:00"),
        ("until friday morning", "2026-03-06 10:00"),
        ("tomorrow morning", "2026-03-04 10:00"),
        ("monday morning please", "2026-03-09 09:00"),
        ("friday 4pm", "2026-03-06 16:00"),
    ],
)
def test_what_sleeps_until_a_morning_wakes_when_it_begins(text: str, moment: str) -> None:
    found = awake(WORDS, text, NOW, HOURS)
    assert found is not None
    assert f"{found.astimezone(LONDON):%Y-%m-%d %H:%M}" == moment


def test_what_is_over_for_today_is_tomorrow_s() -> None:
    assert at("until 11:30") == "2026-03-04 11:30"
    assert at("until 11:31") == "2026-03-03 11:31"
    assert at("until 00:30", datetime(2026, 3, 3, 23, 50, tzinfo=LONDON)) == "2026-03-04 00:30"


def test_tomorrow_over_a_weekend_and_a_holiday_is_the_next_opening() -> None:
    saturday = datetime(2026, 3, 7, 16, 0, tzinfo=LONDON)
    assert at("tomorrow", saturday) == "2026-03-10 15:00"
    before_winter_break = datetime(2026, 12, 23, 17, 0, tzinfo=LONDON)
    assert at("tomorrow", before_winter_break) == "2027-01-05 15:00"


def test_an_hour_is_an_hour_when_the_clocks_change_at_night() -> None:
    before = datetime(2026, 3, 29, 0, 30, tzinfo=LONDON)  # at 01:00 it is 02:00
    assert at("1h", before) == "2026-03-29 02:30"
    assert at("until 8:00", before) == "2026-03-29 08:00"
    found = until(WORDS, "until 8:00", before, HOURS)
    assert found is not None
    assert found - before == timedelta(hours=6, minutes=30)
    back = datetime(2026, 10, 25, 0, 30, tzinfo=LONDON)  # 02:00 is 01:00 once more
    found = until(WORDS, "until 8:00", back, HOURS)
    assert found is not None
    assert found - back.astimezone(UTC) == timedelta(hours=8, minutes=30)


def test_a_time_that_the_clocks_leave_out_comes_all_the_same() -> None:
    before = datetime(2026, 3, 29, 0, 30, tzinfo=LONDON)
    found = until(WORDS, "until 1:30", before, HOURS)
    assert found is not None
    assert timedelta(0) < found - before <= timedelta(hours=1)


@given(st.text(max_size=30), st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)))
def test_whatever_is_written_a_moment_lies_ahead(text: str, now: datetime) -> None:
    aware = now.replace(tzinfo=UTC)
    found = until(WORDS, text, aware, HOURS)
    assert found is None or LEAST <= found - aware <= MOST
