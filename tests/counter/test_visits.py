"""Visits and tools that customers ask for, and what the staff answer."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from tests.counter.shop import Shop
from tests.counter.visiting import visiting_guide
from triagebot.cases.calendar import calendar_file
from triagebot.cases.loaded import unfolded
from triagebot.conversation import plain
from triagebot.conversation.blocks import Attachment, CardLink
from triagebot.conversation.visiting import agreed
from triagebot.messages import Edited, Pressed
from triagebot.store.requests import Request, Requests

ADA, EVE, BOB, CYD = "ada", "eve", "bob", "cyd"
WHEEL = "it stays still, 4 notches, about 40 mm"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path, guide=visiting_guide())
    shop.staff(ADA)
    shop.says(BOB, WHEEL)
    yield shop
    shop.end()


def waiting(shop: Shop) -> tuple[Request, ...]:
    with shop.reading() as view:
        return Requests(view).waiting()


def asks(shop: Shop, who: str, text: str) -> str:
    """Somebody asks, and says yes to asking the staff; gives what they read then."""
    shop.says(who, text)
    return shop.says(who, "yes")


# --- visits -----------------------------------------------------------------------------------------------------------


def test_of_two_that_one_customer_asks_for_none_is_lost(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday at four?")
    asks(shop, BOB, "keep me the big four until tomorrow")
    code, before = shop.code(BOB), len(shop.recorded.texts(BOB))
    assert "They also ask: come Thursday 5 March, 16:00." in shop.says(ADA, f"yes {code}")
    assert "come Thursday 5 March, 16:00" in shop.says(ADA, "queue")
    assert "agreed: come Thursday 5 March, 16:00." in shop.says(ADA, f"yes {code} Bring the wheel only.")
    assert shop.says(ADA, "queue") == "Nobody is waiting."
    assert shop.recorded.texts(BOB)[-1].endswith("\nBring the wheel only"), "with the member's own words"
    assert len(shop.recorded.texts(BOB)) == before + 2


def test_a_yes_with_another_time_is_asked_about(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday at four?")
    code = shop.code(BOB)
    told = shop.says(ADA, f"yes {code} but at three")
    assert told.startswith(f"Which do you mean? A number does it.\n  1. say {code} but at three")
    assert len(waiting(shop)) == 1


def test_a_visit_is_asked_for_and_agreed_to_with_one_word(shop: Shop) -> None:
    told = shop.says(BOB, "can I come on thursday at four?")
    assert told.startswith("Yes, on Thursday 5 March: 15:00 to 20:00.")
    assert "Shall I ask them for Thursday 5 March, 16:00?" in told
    assert waiting(shop) == (), "nothing is asked before the yes"
    heard = len(shop.recorded.texts(ADA))
    assert shop.says(BOB, "yes").startswith("I’ve asked them.")
    code = shop.code(BOB)
    (request,) = waiting(shop)
    assert (request.code, request.day, request.part) == (code, "2026-03-05", "afternoon")
    assert shop.recorded.texts(ADA)[heard:] == [
        f"{code} asks: come Thursday 5 March, 16:00. We take the sprockets off while you wait. “yes {code}”, or "
        f"“no {code} fully booked”."
    ]
    assert "come Thursday 5 March, 16:00" in shop.says(ADA, "queue")

    before = len(shop.recorded.texts(BOB))
    assert shop.says(ADA, f"yes {code}").startswith(f"{code}, agreed: come Thursday 5 March, 16:00.")
    (answer,) = shop.recorded.texts(BOB)[before:]
    assert answer.startswith("From Ada at The Lantern & Ratchet")
    assert "Yes, see you on Thursday 5 March, 16:00." in answer
    assert waiting(shop) == ()
    assert shop.says(ADA, "queue") == "Nobody is waiting."
    assert shop.says(ADA, f"no {code}") == f"{code} has had an answer already: yes."
    assert "Ada said yes to what they asked for" in shop.says(ADA, f"history {code}")


def test_it_is_refused_with_a_reason(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    before = len(shop.recorded.texts(BOB))
    shop.says(ADA, f"no {shop.code(BOB)} fully booked")
    (answer,) = shop.recorded.texts(BOB)[before:]
    assert "Sorry, not on Thursday 5 March, afternoon (15:00 to 17:00): fully booked." in answer
    assert asks(shop, CYD, "can I come on thursday afternoon").startswith("I’ve asked them."), "the place is free again"


def test_a_yes_in_answer_to_the_message_is_enough(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    assert shop.says(ADA, "yes", about=shop.code(BOB)).startswith(f"{shop.code(BOB)}, agreed:")
    assert not shop.says(ADA, "yes", about=shop.code(BOB)).startswith(f"{shop.code(BOB)}, agreed:")


@pytest.mark.parametrize("text", ["thursday at 4", "thursday afternoon", "on thursday"])
def test_when_is_answered_in_a_message_of_its_own(shop: Shop, text: str) -> None:
    assert "name a day" in shop.says(BOB, "can I come?")
    assert waiting(shop) == ()
    assert "Shall I ask them for Thursday 5 March" in shop.says(BOB, text)
    shop.says(BOB, "yes")
    assert [request.day for request in waiting(shop)] == ["2026-03-05"]


def test_a_no_at_the_bench_refuses_nobody(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    code = shop.code(BOB)
    shop.says(ADA, f"claim {code}")
    shop.says(ADA, "12 spl")
    for text in ("no, 20 splines", "no", "yes"):
        shop.says(ADA, text)
    assert [request.code for request in waiting(shop)] == [code]
    assert shop.says(ADA, "yes ZZ9-ZZ9") == "There’s no case ZZ9-ZZ9."
    shop.says(CYD, WHEEL)
    assert shop.says(ADA, f"yes {shop.code(CYD)}") == f"{shop.code(CYD)} hasn’t asked for anything."
    shop.says(ADA, Edited(f"yes {code}", of="1"))
    assert [request.code for request in waiting(shop)] == [code]


def test_no_more_come_than_there_are_places(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    told = asks(shop, CYD, "can I come on thursday at four")
    assert told.startswith(
        "Sorry, Thursday 5 March, afternoon (15:00 to 17:00) is full. Still free: Thursday 5 March, evening"
    )
    assert [request.code for request in waiting(shop)] == [shop.code(BOB)]
    assert asks(shop, CYD, "thursday evening then, can I come thursday evening").startswith("I’ve asked them.")
    shop.says(ADA, f"yes {shop.code(BOB)}")
    assert asks(shop, "dan", "can I come on thursday at four").startswith("Sorry, "), "an agreed visit keeps its place"


def test_another_visit_gives_up_the_one_before(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    asks(shop, BOB, "can I come on friday morning")
    (request,) = waiting(shop)
    assert (request.day, request.part) == ("2026-03-06", "morning")
    assert asks(shop, CYD, "can I come on thursday afternoon").startswith("I’ve asked them.")


def test_who_does_not_come_frees_the_place(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    shop.says(ADA, f"yes {shop.code(BOB)}")
    heard = len(shop.recorded.texts(ADA))
    assert shop.says(BOB, "cancel my visit").startswith("Right, you’re not coming.")
    assert shop.recorded.texts(ADA)[heard:][0].startswith(f"{shop.code(BOB)} isn’t coming: come Thursday 5 March")
    assert shop.says(BOB, "calendar").startswith("No visit is agreed on yet.")
    assert asks(shop, CYD, "can I come on thursday afternoon").startswith("I’ve asked them.")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("can I come at five?", "No, we’re shut on Mondays. The shop opens on Tuesday 3 March at 15:00."),
        ("can I come on thursday at noon?", "Not at 12:00: on Thursday 5 March we’re open 15:00 to 20:00."),
        ("can I come on thursday morning", "Not in the morning: on Thursday 5 March we’re open 15:00 to 20:00."),
    ],
)
def test_what_is_shut_is_said_and_nothing_is_asked(shop: Shop, text: str, told: str) -> None:
    assert shop.says(BOB, text).startswith(told)
    shop.says(BOB, "yes")
    assert waiting(shop) == ()


def test_only_a_yes_right_after_it_asks(shop: Shop) -> None:
    for text in ("no", "4 notches", "why"):
        shop.says(BOB, "can I come on thursday afternoon")
        shop.says(BOB, text)
        shop.says(BOB, "yes")
    assert waiting(shop) == ()
    shop.says(BOB, "can I come on thursday afternoon")
    shown = shop.recorded.screens[BOB][-1]
    assert [choice.id for choice in shown.reply.offers] == ["ask-them", "dont-ask"]
    shop.says(BOB, Pressed(shown.case, shown.turn, "ask-them"))
    assert len(waiting(shop)) == 1


def test_nothing_is_read_of_the_wheel_in_it(shop: Shop) -> None:
    shop.says(CYD, "hello")
    for text in ("can I come at 5", "keep me the twenty until tomorrow", "book me in for thursday at 4"):
        shop.says(CYD, text)
        shop.says(CYD, "no")
    held = shop.held(CYD)
    assert held is not None
    assert held.case.now.facts == ()
    shop.says(CYD, "it has 12 splines. can I come on thursday at 4?")
    held = shop.held(CYD)
    assert held is not None
    assert {fact.reading.question for fact in held.case.now.facts} == {"fitting", "count"}


def test_somebody_who_tries_it_out_asks_nobody(shop: Shop) -> None:
    shop.says(ADA, "try")
    asks(shop, ADA, "can I come on thursday afternoon")
    assert waiting(shop) == ()


def test_a_shop_that_takes_no_visits_says_when_it_is_open(tmp_path: Path) -> None:
    shop = Shop(tmp_path, guide=visiting_guide(None, None))
    told = shop.says(BOB, "can I come on thursday at four?")
    assert "Yes, on Thursday 5 March: 15:00 to 20:00. No appointment needed, just bring the wheel." in told
    assert shop.says(BOB, "keep me the twenty until tomorrow").startswith(
        "“the twenty” is here: wall A, peg 5. I can’t keep it"
    )
    assert waiting(shop) == ()
    shop.end()


# --- a file for a calendar --------------------------------------------------------------------------------------------


def test_an_agreed_visit_is_a_file_on_request(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday at four?")
    shop.says(ADA, f"yes {shop.code(BOB)}")
    with shop.reading() as view:
        stored = view.case_by_code(shop.code(BOB))
    assert stored is not None
    case = unfolded(stored).case
    assert agreed(case) is not None
    texts = shop.guide.language("en").texts
    file = calendar_file(shop.guide, texts, case, datetime(2026, 3, 2, 12, tzinfo=UTC))
    assert file is not None
    (event,) = Calendar.from_ical(file).walk("VEVENT")
    assert event.decoded("dtstart") == datetime(2026, 3, 5, 16, tzinfo=shop.guide.shop.zone)
    assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(minutes=30)
    assert str(event["summary"]) == "Wheel to The Lantern & Ratchet"
    assert str(event["location"]) == "The old lamp store, 3 Signal Yard"
    assert shop.says(BOB, "calendar").startswith("Thursday 5 March, 16:00, The old lamp store, 3 Signal Yard.")
    (attached,) = shop.recorded.screens[BOB][-1].reply.of(Attachment)
    assert attached.name == "visit.ics"
    (event,) = Calendar.from_ical(attached.content).walk("VEVENT")
    assert event.decoded("dtstart") == datetime(2026, 3, 5, 16, tzinfo=shop.guide.shop.zone)


def test_with_pages_there_is_a_link_to_it(tmp_path: Path) -> None:
    shop = Shop(tmp_path, guide=replace(visiting_guide(), address="https://shop.example.org"))
    shop.staff(ADA)
    asks(shop, BOB, "can I come on thursday at four?")
    shop.says(ADA, f"yes {shop.code(BOB)}")
    shop.says(BOB, "calendar")
    (link,) = shop.recorded.screens[BOB][-1].reply.of(CardLink)
    assert link.url.startswith("https://shop.example.org/visit/")
    assert link.url.endswith(".ics")
    assert link.url in plain(shop.recorded.screens[BOB][-1].reply)
    shop.end()


# --- tools that are kept ----------------------------------------------------------------------------------------------


def test_a_tool_is_kept_and_lent_to_nobody_else(shop: Shop) -> None:
    told = shop.says(BOB, "keep me the small four until tomorrow")
    assert told.startswith(
        "“the small four” is here. Shall I ask them to keep it for you until Tuesday 3 March, 20:00?"
    )
    shop.says(BOB, "yes")
    code = shop.code(BOB)
    assert "keep “the small four” until Tuesday 3 March, 20:00" in shop.says(ADA, "queue")
    before = len(shop.recorded.texts(BOB))
    shop.says(ADA, f"yes {code}")
    assert "Yes, “the small four” is kept for you until Tuesday 3 March, 20:00." in shop.recorded.texts(BOB)[before:][0]
    assert "is out with Ben" in shop.says(ADA, "lend small four to Ben")
    assert shop.says(ADA, "lend small four to Cid").startswith(
        f"What’s left of “the small four” is kept: {code}, until "
    )
    assert f"is out with {code}" in shop.says(ADA, f"lend small four to {code}")
    assert "Not just now: “the small four” is out." in shop.says(CYD, "keep me the small four until tomorrow")


def test_no_tool_is_kept_for_two(shop: Shop) -> None:
    """There is one of the middle four."""
    asks(shop, BOB, "keep me the middle four until tomorrow")
    told = shop.says(CYD, "keep me the middle four until tomorrow")
    assert "Not just now: “the middle four” is out." in told
    assert [request.code for request in waiting(shop)] == [shop.code(BOB)]
    shop.clock.wait(days=3)
    assert asks(shop, CYD, "keep me the middle four until tomorrow").startswith("I’ve asked them."), (
        "it is over by itself"
    )


def test_no_tool_is_kept_for_longer_than_the_shop_does(shop: Shop) -> None:
    told = shop.says(BOB, "could you hold the twenty for me till saturday?")
    assert "until Wednesday 4 March, 18:00? They keep tools for 2 days at most." in told
    assert shop.says(BOB, "keep me the odd twelve until friday").startswith(
        "“the odd twelve (yellow tape)” stays in the shop"
    )
    assert shop.says(BOB, "keep me the tool until tomorrow").startswith("“the big four” is here."), (
        "the one that was named"
    )


def test_what_was_asked_goes_with_the_case(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    shop.says(BOB, "forget me")
    shop.says(BOB, "yes")
    assert waiting(shop) == ()
    assert asks(shop, CYD, "can I come on thursday afternoon").startswith("I’ve asked them.")


# --- what nobody answered ---------------------------------------------------------------------------------------------


def looks_around(shop: Shop) -> None:
    shop.run(shop.delivery.look_around())
    shop.run(shop.delivery.idle())


def test_a_visit_that_nobody_answered_leaves_the_queue_after_its_time_and_is_told(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    code = shop.code(BOB)
    shop.clock.wait(minutes=int((datetime(2026, 3, 5, 16, 59, tzinfo=UTC) - shop.clock()).total_seconds()) // 60)
    looks_around(shop)
    assert [request.code for request in waiting(shop)] == [code], "its afternoon ends at 17:00"
    before = len(shop.recorded.texts(BOB))
    shop.clock.wait(minutes=int((datetime(2026, 3, 5, 17, 0, tzinfo=UTC) - shop.clock()).total_seconds()) // 60)
    looks_around(shop)
    looks_around(shop)
    assert waiting(shop) == ()
    (said,) = shop.recorded.texts(BOB)[before:]
    assert said.startswith("Sorry, nobody here got round to answering you about Thursday 5 March, afternoon")
    assert shop.says(ADA, "queue") == "Nobody is waiting."


def test_what_was_answered_in_time_is_not_told_again(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday afternoon")
    shop.says(ADA, f"yes {shop.code(BOB)}")
    before = len(shop.recorded.texts(BOB))
    shop.clock.wait(minutes=int((datetime(2026, 3, 7, 17, 0, tzinfo=UTC) - shop.clock()).total_seconds()) // 60)
    looks_around(shop)
    assert shop.recorded.texts(BOB)[before:] == []


# --- am I booked? -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "question",
    ["so am I booked?", "am i booked in", "is thursday ok?", "is my visit confirmed?", "when is my slot",
     "is thursday at four ok?", "do I have an appointment"],
)  # fmt: skip
def test_who_asked_for_a_visit_is_told_how_it_stands(shop: Shop, question: str) -> None:
    asks(shop, BOB, "can I come on thursday at four?")
    waits = shop.says(BOB, question)
    assert waits.startswith("I’ve asked them for Thursday 5 March, 16:00. They haven’t answered yet.")
    assert "Shall I" not in waits
    shop.says(ADA, f"yes {shop.code(BOB)}")
    assert shop.says(BOB, question).startswith("Yes, they’re expecting you: Thursday 5 March, 16:00.")


def test_another_day_is_answered_from_the_hours(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday at four?")
    assert shop.says(BOB, "is wednesday ok?").startswith("Yes, on Wednesday 4 March: 10:00")
    assert "Shall I ask them for Friday 6 March, 16:00?" in shop.says(BOB, "can I come on friday at four?")


def test_a_visit_that_is_off_is_not_told(shop: Shop) -> None:
    asks(shop, BOB, "can I come on thursday at four?")
    shop.says(ADA, f"no {shop.code(BOB)} fully booked")
    assert "Thursday" not in shop.says(BOB, "so am I booked?")
