"""A shop without a room for its staff: words go to members in private, and come back, whatever happens meanwhile."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.counter.shop import Shop
from tests.doubles.telegram.content import plain_png
from tests.handover.workshop import RoomyChannel
from triagebot.conversation import Message, plain
from triagebot.conversation.events import Handed, Remarked
from triagebot.conversation.scene import FOR_THEM
from triagebot.delivery import WaitingClient
from triagebot.messages import Refused, Sent
from triagebot.store.staff import Staff

TEXTS = shipped_guide().language("en").texts
NAME = shipped_guide().shop.name
ADA, EVE, BOB = "ada", "eve", "bob"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path, RoomyChannel())
    made.staff(ADA)
    made.staff(EVE)
    yield made
    made.end()


@pytest.fixture
def code(shop: Shop) -> str:
    return shop.needs_a_person(BOB)


def read(shop: Shop, who: str) -> str:
    return shop.recorded.texts(who)[-1]


def test_everybody_on_duty_hears_of_a_new_case_and_of_every_word(shop: Shop, code: str) -> None:
    for who in (ADA, EVE):
        assert read(shop, who).startswith(f"{code} needs a person: they asked. “person”")
    assert shop.says(BOB, "can you call me on five five five?") == TEXTS("handover-passed-on", shop=NAME)
    for who in (ADA, EVE):
        assert read(shop, who).startswith(f"{code}, the customer: “can you call me on five five five?”")


def test_words_are_kept_with_the_case_and_read_no_answers(shop: Shop, code: str) -> None:
    shop.says(BOB, "12 splines after all")
    held = shop.held(BOB)
    assert held is not None
    kept = held.case.events[-1]
    assert isinstance(kept, Remarked)
    assert (kept.what, kept.text) == (FOR_THEM, "12 splines after all")
    assert any(isinstance(event, Handed) for event in held.case.events)
    assert not any(fact.text == "12 splines after all" for fact in held.case.now.facts)


def test_it_is_said_once_that_words_are_passed_on_until_somebody_answers(shop: Shop, code: str) -> None:
    assert shop.says(BOB, "hello?") == TEXTS("handover-passed-on", shop=NAME)
    assert shop.says(BOB, "anybody?") == ""
    shop.says(ADA, f"say {code} one moment")
    assert shop.says(BOB, "thanks") == TEXTS("handover-passed-on", shop=NAME)


def test_who_has_the_case_hears_alone(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    before = len(shop.recorded.texts(EVE))
    shop.says(BOB, "are you there?")
    assert "are you there?" in read(shop, ADA)
    assert len(shop.recorded.texts(EVE)) == before


def test_who_is_off_duty_is_left_alone_until_back(shop: Shop) -> None:
    assert shop.says(EVE, "going home").startswith("You’re off.")
    shop.says(EVE, "4n 40")  # looking something up does not put her on duty
    before = len(shop.recorded.texts(EVE))
    code = shop.needs_a_person(BOB)
    assert len(shop.recorded.texts(EVE)) == before
    assert code in read(shop, ADA)
    assert shop.says(EVE, "on duty") == "You’re on. One person is waiting: “queue”."
    shop.says(BOB, "hello?")
    assert "hello?" in read(shop, EVE)


def test_free_words_take_the_case_and_say_who_writes(shop: Shop, code: str) -> None:
    assert shop.says(ADA, f"say {code} Bring it in at five.") == f"Sent to {code}. What they write comes to you."
    assert read(shop, BOB) == TEXTS("staff-from-person", name="Ada", shop=NAME, text="Bring it in at five.")
    ticket = shop.ticket(code)
    assert ticket is not None
    assert ticket.holder == shop.mark(ADA)
    assert shop.says(EVE, f"say {code} Or at six.").endswith("Ada has the case, so what they write goes there.")


def test_a_reply_to_the_message_goes_to_its_customer(shop: Shop, code: str) -> None:
    other = shop.needs_a_person("cyd")
    shop.says(BOB, "at five?")
    shop.says(ADA, "Later is better, say six.", about=code)
    assert read(shop, BOB).endswith("Later is better, say six.")
    shop.says(ADA, "12 splines, then.", about=other)
    assert read(shop, "cyd").endswith("12 splines, then.")


@pytest.mark.parametrize("text", ["claim", "close 4n 40 fitted", "snooze 2h", "photos", "case", "later 2h"])
def test_a_command_in_answer_to_a_message_is_obeyed_and_not_sent(shop: Shop, code: str, text: str) -> None:
    shop.needs_a_person("cyd")
    before = len(shop.recorded.texts(BOB))
    assert code in shop.says(ADA, text, about=code)
    told = shop.recorded.texts(BOB)[before:]
    assert all(text not in each for each in told)


def test_a_forwarded_reply_sends_nothing(shop: Shop, code: str) -> None:
    before = len(shop.recorded.texts(BOB))
    shop.says(ADA, "somebody else’s words", about=code, forwarded=True)
    assert len(shop.recorded.texts(BOB)) == before


def test_an_outsider_s_reply_is_any_message(shop: Shop, code: str) -> None:
    before = len(shop.recorded.texts(BOB))
    shop.says("zoe", "give me your address", about=code)
    assert len(shop.recorded.texts(BOB)) == before


def test_a_case_that_the_bot_has_is_taken_from_it_by_words(shop: Shop, code: str) -> None:
    shop.says(BOB, "back to the bot")
    assert read(shop, ADA) == f"{code}: they’ve gone back to the bot."
    shop.says(ADA, f"say {code} wait a moment")
    assert read(shop, BOB).endswith(TEXTS("handover-taken"))
    shop.says(BOB, "all right")
    assert f"{code}, the customer: “all right”" in read(shop, ADA)


def test_the_case_shows_the_last_words_of_both(shop: Shop, code: str) -> None:
    shop.says(BOB, "can I come at five?")
    shop.says(ADA, f"say {code} Five is fine.")
    shown = shop.says(EVE, f"case {code}")
    assert "they: “can I come at five?”" in shown
    assert "Ada: “Five is fine.”" in shown
    assert shown.index("at five?") < shown.index("Five is fine.")


def test_the_queue_shows_what_it_seems_to_be_and_words_without_answer(shop: Shop, code: str) -> None:
    shop.says(BOB, "can I come at five?")
    row = shop.says(ADA, "queue").splitlines()[1]
    assert row.startswith(f"1 {code}, ")
    assert "4 notches" in row
    assert row.endswith("“can I come at five?”")
    shop.says(ADA, f"say {code} Yes.")
    assert "at five?" not in shop.says(ADA, "queue")


def test_a_photo_follows_to_the_members(shop: Shop, code: str) -> None:
    assert isinstance(shop.recorded, RoomyChannel)
    shop.recorded.files = {"one": plain_png(64, 48)}
    shop.brings(BOB, Sent("photo", ({"file": "one"},)))
    assert shop.recorded.last(ADA).photo is not None
    assert read(shop, ADA) == f"{code}: a photo from the customer."


@pytest.mark.parametrize(
    ("note", "replies"), [("here’s the part", True), ("", True), ("say {code} here’s the part", False)]
)
def test_a_members_photo_reaches_the_customer_with_its_words(shop: Shop, code: str, note: str, replies: bool) -> None:
    assert isinstance(shop.recorded, RoomyChannel)
    shop.recorded.files = {"one": plain_png(64, 48)}
    before = len(shop.recorded.screens[BOB])
    answer = shop.says(ADA, Sent("photo", ({"file": "one"},), note.format(code=code)), about=code if replies else "")
    assert answer.startswith(f"Sent to {code}.")
    *before_it, last = shop.recorded.screens[BOB][before:]
    assert before_it == []
    assert last.photo is not None
    said = f"From Ada at {NAME} (a person)"
    assert plain(last.reply) == (f"{said}:\nhere’s the part" if note else f"{said}: a photo.")
    assert "sent them a photo" in shop.says(ADA, f"history {code}")


def test_a_members_photo_that_is_lost_or_somebody_elses_is_not_passed_on(shop: Shop, code: str) -> None:
    assert isinstance(shop.recorded, RoomyChannel)
    shop.recorded.files = {"one": b"no picture"}
    before = len(shop.recorded.screens[BOB])
    shop.says(ADA, Sent("photo", ({"file": "one"},), "look"), about=code)
    assert "couldn’t pass on your photo" in read(shop, ADA)
    assert len(shop.recorded.screens[BOB]) == before + 1
    shop.says(EVE, Sent("photo", ({"file": "one"},)), about=code, forwarded=True)
    shop.says(EVE, Sent("photo", ({"file": "one"},)))
    assert len(shop.recorded.screens[BOB]) == before + 1


def test_words_that_do_not_arrive_are_told_to_who_wrote_them(shop: Shop, code: str) -> None:
    shop.recorded.fates[BOB].extend([Refused("too long")] * 2)
    shop.says(ADA, f"say {code} Bring it in.")
    assert read(shop, ADA) == f"{code}: this didn’t reach them."


def test_a_closed_case_is_the_bot_s_again_and_its_person_knows(shop: Shop, code: str) -> None:
    shop.says(ADA, f"close {code} 4n 40 fitted")
    assert read(shop, BOB) == TEXTS("handover-case-closed", name="Ada", shop=NAME)
    assert shop.says(BOB, "what now?") != "", "the bot answers"


def test_somebody_at_a_terminal_reads_the_answer_when_they_write_next(shop: Shop) -> None:
    client = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes)
    client.hear("terminal:me", Message("4 notches, it stays still"), "en")
    shop.clock.wait(minutes=1)
    heard = client.hear("terminal:me", Message("person"), "en")
    assert heard.case is not None
    assert plain(client.hear("terminal:me", Message("anybody?"), "en").reply) == TEXTS("handover-passed-on", shop=NAME)
    kept = shop.says(ADA, f"say {heard.case.code} I am here.")
    assert kept.splitlines()[-1] == f"Kept for {heard.case.code}: they’ll read it when they’re next here."
    shop.clock.wait(minutes=1)
    answered = plain(client.hear("terminal:me", Message("good"), "en").reply)
    assert answered.startswith(TEXTS("staff-from-person", name="Ada", shop=NAME, text="I am here."))
    shop.clock.wait(minutes=1)
    assert "I am here." not in plain(client.hear("terminal:me", Message("more"), "en").reply)


def test_somebody_who_comes_back_to_a_terminal_reads_the_answer_once(shop: Shop) -> None:
    client = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes)
    client.hear("terminal:me", Message("person"), "en")
    heard = client.hear("terminal:me", Message("hello?"), "en")
    assert heard.case is not None
    shop.clock.wait(minutes=1)
    assert client.news("terminal:me", "en") is None
    shop.says(ADA, f"say {heard.case.code} At five.")
    back = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes)
    assert "At five." in plain(back.arrive("terminal:me", "en").reply)
    assert "At five." not in plain(back.hear("terminal:me", Message("good"), "en").reply)
    shop.clock.wait(minutes=1)
    shop.says(ADA, f"say {heard.case.code} Or six.")
    news = back.news("terminal:me", "en")
    assert news is not None
    assert plain(news) == TEXTS("staff-from-person", name="Ada", shop=NAME, text="Or six.")
    assert back.news("terminal:me", "en") is None
    assert "Or six." not in plain(back.hear("terminal:me", Message("fine"), "en").reply)


def test_a_member_at_a_terminal_hears_what_came_in(shop: Shop) -> None:
    client = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes, bench=True)
    client.hear("terminal:kim", Message(shop.invitation(name="Kim")), "en")
    assert client.news("terminal:kim", "en") is None
    shop.clock.wait(minutes=1)
    code = shop.needs_a_person(BOB)
    news = client.news("terminal:kim", "en")
    assert news is not None
    assert plain(news).startswith(f"{code} needs a person")
    client.hear("terminal:kim", Message(f"claim {code}"), "en")
    shop.clock.wait(minutes=1)
    shop.says(BOB, "can I come at five?")
    shop.says(BOB, "hello?")
    told = plain(client.hear("terminal:kim", Message("mine"), "en").reply)
    assert told.startswith(TEXTS("staff-words-here", code=code, text="can I come at five?")), "first what came in"
    assert TEXTS("staff-words-here", code=code, text="hello?") in told
    assert "they wrote" not in plain(client.hear("terminal:kim", Message("12 spl"), "en").reply), "once"
    shop.clock.wait(minutes=1)
    shop.says(BOB, "are you there?")
    again = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes, bench=True)
    assert TEXTS("staff-words-here", code=code, text="are you there?") in plain(
        again.arrive("terminal:kim", "en").reply
    )


def test_a_member_at_a_terminal_hears_nothing_of_a_case_that_another_has(shop: Shop) -> None:
    client = WaitingClient(shop.guide, shop.store.store, shop.clock, shop.codes, bench=True)
    client.hear("terminal:kim", Message(shop.invitation(name="Kim")), "en")
    code = shop.needs_a_person(BOB)
    shop.says(ADA, f"claim {code}")
    shop.clock.wait(minutes=1)
    shop.says(BOB, "hello?")
    assert client.news("terminal:kim", "en") is None


def test_with_nobody_on_duty_words_wait_in_the_queue(shop: Shop) -> None:
    for who in (ADA, EVE):
        shop.says(who, "off duty")
    code = shop.needs_a_person(BOB)
    shop.says(BOB, "hello?")
    shop.says(ADA, "on duty")
    assert f"{code}" in shop.says(ADA, "queue")
    assert "“hello?”" in shop.says(ADA, "queue")


def test_standing_of_an_older_store_is_on_duty(shop: Shop) -> None:
    with shop.writing() as tx:
        member = Staff(tx).member(shop.mark(ADA))
        assert member is not None
        Staff(tx).stand(replace(member, standing={}), {})
    assert shop.needs_a_person(BOB) in read(shop, ADA)


def test_the_queue_says_what_was_seen_where_nothing_is_likely(shop: Shop) -> None:
    shop.says(BOB, "notches, it stays still")
    shop.says(BOB, "person")
    row = shop.says(ADA, "queue").splitlines()[1]
    assert "the fitting has notches" in row
    assert "freewheel" not in row
