"""Days that somebody names in a question: which they are, and that the shop's hours are told of them."""

from datetime import UTC, date, datetime

import pytest

from triagebot.conversation import Guide
from triagebot.conversation.blocks import Remark
from triagebot.conversation.enquiries.loading import load_enquiries
from triagebot.conversation.enquiries.named_days import days_named
from triagebot.shop import fold
from triagebot.testing import Clock, ScriptedPerson
from triagebot.topics import built_in_topic

#: A Sunday.
TODAY = date(2026, 11, 29)


@pytest.mark.parametrize(
    ("words", "days"),
    [
        ("on the 24th", [date(2026, 12, 24)]),
        ("24th of december", [date(2026, 12, 24)]),
        ("dec 24", [date(2026, 12, 24)]),
        ("24/12", [date(2026, 12, 24)]),
        ("the 28th", [date(2026, 12, 28)]),
        ("the 29th", [TODAY]),
        ("the 31st", [date(2026, 12, 31)]),
        ("29 february", [date(2028, 2, 29)]),
        ("31st of april", [date(2026, 12, 31)]),
        ("christmas eve", [date(2026, 12, 24)]),
        ("new year’s day", [date(2027, 1, 1)]),
        ("tomorrow", [date(2026, 11, 30)]),
        ("the day after tomorrow", [date(2026, 12, 1)]),
        ("friday", [date(2026, 12, 4)]),
        ("next friday", [date(2026, 12, 4)]),
        ("sunday", [TODAY]),
        ("next sunday", [date(2026, 12, 6)]),
        ("sunday morning", [TODAY]),
        ("at the weekend", [date(2026, 12, 5), date(2026, 12, 6)]),
        ("the 3rd sprocket is bent, can I come on the 4th", [date(2026, 12, 4)]),
        ("soon", [TODAY]),
    ],
)
def test_days_are_those_that_are_meant(words: str, days: list[date]) -> None:
    known = load_enquiries("en", built_in_topic())
    assert list(days_named(TODAY, known.days, fold(words).split())) == days


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("are you open on the 24th?", "No, on Thursday 24 December we’re shut (Winter break)."),
        ("open christmas eve?", "No, on Thursday 24 December we’re shut (Winter break)."),
        ("can i come in the day after tomorrow", "Yes, on Tuesday 1 December: 15:00 to 20:00."),
        ("are you open next friday", "Yes, on Friday 4 December: 10:00 to 13:00 and 14:00 to 18:00."),
        ("are you there on sunday morning", "No, we’re shut on Sundays."),
        ("closed on june 12th?", "Yes, on Saturday 12 June we’re shut (We are all at the repair fair)."),
        ("can i drop it off on wednesday the 2nd?", "Yes, on Wednesday 2 December: 10:00 to 13:00"),
        ("is the shop closed on sunday?", "Yes, we’re shut on Sundays."),
        ("are you shut on tuesday", "No, on Tuesday 1 December we’re open: 15:00 to 20:00."),
        ("open tomorrow?", "No, we’re shut on Mondays."),
    ],
)
def test_the_hours_of_a_day_that_is_named_are_told(guide: Guide, text: str, told: str) -> None:
    person = ScriptedPerson(guide, Clock(datetime(2026, 11, 29, 21, tzinfo=UTC)))
    person.says("6 sprockets")
    before = person.case.now.readings
    reply = person.says(text)
    assert told in " ".join(block.text for block in reply.of(Remark))
    assert person.case.now.readings == before
    assert reply.question is not None
