"""The queue and what is done with a case: looked at, taken on, given back, asleep."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.conversation.guides import without_question
from tests.counter.shop import Shop
from tests.counter.waiting import ADA, BOB, CYD, EVE, deeds
from tests.delivery.office import Dead
from triagebot.cases.cards import card_link
from triagebot.conversation import Guide, edition
from triagebot.messages import Arrived, Commanded, Said, Sent
from triagebot.store.staff import Tickets

# --- what opens a ticket ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("texts", "reason"),
    [
        (["person"], "asked"),
        (["4 notches, 24 mm, it stays still", "the notches are worn"], "referral"),
        (["I don't know"] * 5, "doubt"),
        (["12 splines, 20.0 mm by calliper, it stays still, 5 sprockets", "no name on it"], "no-remover"),
    ],
)
def test_whatever_ends_with_a_person_opens_a_ticket(shop: Shop, texts: list[str], reason: str) -> None:
    for text in texts:
        shop.says(BOB, text)
    held = shop.held(BOB)
    assert held is not None
    assert (held.case.now.outcome, held.case.now.reason) == ("person", reason)
    ticket = shop.ticket(held.case.code)
    assert ticket is not None
    assert (ticket.state, ticket.reason, ticket.holder) == ("waiting", reason, None)


def test_what_ends_otherwise_opens_none(shop: Shop) -> None:
    shop.says(BOB, "it stays still, 4 notches, 40 mm by calliper")
    assert shop.held(BOB).case.now.outcome == "answer"  # type: ignore[union-attr]
    assert shop.state(shop.code(BOB)) == ""


def test_the_ticket_is_written_with_the_turn_or_not_at_all(shop: Shop) -> None:
    shop.says(BOB, "4 notches")
    shop.store.dies = "before the commit"
    with pytest.raises(Dead):
        shop.bring_and_die(BOB, "person")
    shop.crash()
    assert (shop.held(BOB).case.now.outcome, shop.state(shop.code(BOB))) == (None, "")  # type: ignore[union-attr]


def test_asking_once_more_opens_a_ticket_that_was_closed(shop: Shop, code: str) -> None:
    shop.says(ADA, f"close {code} fitted")
    shop.says(BOB, "thanks")
    assert shop.state(code) == "closed"
    shop.says(BOB, "person")
    assert shop.state(code) == "waiting"


def test_a_case_that_is_forgotten_takes_its_ticket_and_its_history_along(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    shop.says(BOB, "forget me")
    shop.says(BOB, "yes")
    assert shop.says(ADA, "queue") == "Nobody is waiting."
    assert shop.says(ADA, f"history {code}") == f"There’s no case {code}."
    assert deeds(shop) == []
    assert shop.cases() == 0


# --- the queue --------------------------------------------------------------------------------------------------------


def test_the_queue_has_whom_nobody_has_first(shop: Shop, code: str) -> None:
    second = shop.needs_a_person(CYD)
    shop.says(ADA, f"claim {code}")
    rows = shop.says(ADA, "queue").splitlines()
    assert rows[0] == "2 cases."
    assert rows[1].startswith(f"1 {second}")
    assert rows[1].endswith("they asked. Nobody has it.")
    assert rows[2].startswith(f"2 {code}")
    assert rows[2].endswith("You have it.")
    assert shop.says(EVE, "queue").splitlines()[2].endswith("Ada has it.")


def test_a_long_queue_is_cut_and_counted(shop: Shop) -> None:
    shop.staff(ADA)
    for number in range(15):
        shop.says(f"customer {number}", "person")
    rows = shop.says(ADA, "queue").splitlines()
    assert rows[0] == "15 cases."
    assert rows[-1] == "And 3 more."
    assert len(rows) == 14


# --- looking ----------------------------------------------------------------------------------------------------------


def written(code: str) -> list[str]:
    return [code, code.lower(), code.replace("-", " "), code.replace("-", ""), f"  {code}.", code.replace("-", "–")]


def test_a_code_is_read_however_it_is_written(shop: Shop, code: str) -> None:
    whole = shop.says(ADA, f"case {code}")
    assert whole.startswith(f"{code}, opened ")
    for text in written(code):
        assert shop.says(ADA, f"case {text}") == whole
        assert shop.says(ADA, text) == whole


def test_the_counter_sees_what_was_told_ruled_out_and_has_to_be_fetched(shop: Shop, code: str) -> None:
    lines = shop.says(ADA, f"case {code}").splitlines()
    assert lines[0].endswith("For a person: they asked.")
    assert lines[1] == "Waiting for a person."
    assert "Told by the person who opened the case: the middle stays still; the fitting has notches" in "\n".join(lines)
    assert any(
        line.startswith("Ruled out because it measures about 40 mm: freewheel, 4 notches, 24 mm") for line in lines
    )
    assert any(line.startswith("Fetch: “the big four”, wall A, peg 9; ") for line in lines)
    assert lines[-1].endswith(f"with edition {edition(shop.guide.topic.digest)}.")


def test_photos_are_counted(shop: Shop, code: str) -> None:
    shop.says(BOB, Sent("photo", ({"file": "one"}, {"file": "two"})))
    assert "2 photos." in shop.says(ADA, f"case {code}")


def test_a_card_s_address_opens_its_case(shop: Shop, code: str) -> None:
    held = shop.held(BOB)
    assert held is not None
    with shop.writing() as tx:
        url = card_link(tx, held.number, "https://example.org", shop.clock())
    whole = shop.says(ADA, f"case {code}")
    assert shop.says(ADA, url) == whole
    assert shop.says(ADA, f"case {url}") == whole
    assert shop.says(ADA, Arrived(code=code)) == whole
    shop.clock.wait(days=15)
    assert shop.says(ADA, url) == "That card doesn’t work any more. Ask for the case code."
    assert (
        shop.says(ADA, "https://example.org/card/nothing") == "That card doesn’t work any more. Ask for the case code."
    )
    assert shop.cases() == 1


def test_a_case_of_an_older_edition_says_so(shop: Shop, code: str) -> None:
    shop.says(CYD, "it stays still, 4 notches, 40 mm by calliper")
    old = edition(shop.guide.topic.digest)
    edited = replace(without_question(shop.guide, "count").topic, digest="f" * 64)
    shop.close()
    shop.guide = Guide(edited, shop.guide.shop, shop.guide.spoken)
    shop.open()
    text = shop.says(ADA, f"case {code}")
    assert "For a person: they asked." in text
    assert f"with edition {old}; today it is ffff-ffff." in text
    assert "It had an answer; today’s edition would ask more." in shop.says(ADA, f"case {shop.code(CYD)}")


def test_what_is_no_case_is_said_not_to_be(shop: Shop, code: str) -> None:
    assert shop.says(ADA, "case ZZZ-999") == "There’s no case ZZZ-999."
    assert shop.says(ADA, "claim ZZZ-999") == "There’s no case ZZZ-999."
    assert shop.says(ADA, Arrived(code="ZZZ-999")) == "There’s no case ZZZ-999."
    assert shop.says(ADA, "release").startswith("Which case?")


def test_words_that_only_look_like_a_command_are_a_line(shop: Shop, code: str) -> None:
    assert shop.says(ADA, "take 4n 40").startswith("Sure: ")
    assert shop.says(ADA, "show 4n 40").startswith("Sure: ")


# --- having it --------------------------------------------------------------------------------------------------------


def test_the_first_to_claim_it_has_it_and_the_other_hears_who(shop: Shop, code: str) -> None:
    assert shop.says(ADA, f"claim {code}") == f"{code} is yours."
    assert shop.says(EVE, f"claim {code}") == f"Ada has {code}."
    assert shop.says(ADA, f"claim {code}") == f"You already have {code}."
    assert deeds(shop) == ["claimed"]
    assert shop.ticket(code).holder == shop.mark(ADA)  # type: ignore[union-attr]


def test_the_same_claim_twice_is_one(shop: Shop, code: str) -> None:
    incoming = shop.incoming(ADA, Commanded("help"))
    claim = replace(incoming, content=Said(f"claim {code}"))
    assert [shop.again(claim).outcome for _ in range(2)] == ["applied", "duplicate"]
    assert deeds(shop) == ["claimed"]


def test_released_it_waits_for_somebody_else(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    assert shop.says(EVE, f"release {code}").startswith("Ada has")
    assert shop.says(ADA, f"release {code}") == f"{code} is back in the queue."
    assert shop.says(ADA, f"release {code}") == f"Nobody has {code}."
    assert shop.says(EVE, f"claim {code}") == f"{code} is yours."


def test_an_owner_may_give_back_what_another_has(shop: Shop, code: str) -> None:
    shop.staff("zoe", "owner")
    shop.says(ADA, f"claim {code}")
    assert shop.says("zoe", f"release {code}") == f"{code} is back in the queue."


def test_without_a_code_the_only_one_that_they_have_is_meant(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    assert shop.says(ADA, "snooze 2h").startswith(f"{code} is snoozed until")
    assert shop.says(ADA, "release") == f"{code} is back in the queue."
    assert shop.says(ADA, "release").startswith("Which case?")
    second = shop.needs_a_person(CYD)
    for each in (code, second):
        shop.says(ADA, f"claim {each}")
    assert shop.says(ADA, "release").startswith("Which case?"), "they have two"


def test_any_case_may_be_taken_on(shop: Shop) -> None:
    shop.staff(ADA)
    shop.says(BOB, "4 notches")
    code = shop.code(BOB)
    assert shop.says(ADA, f"claim {code}") == f"{code} is yours."
    assert "taken by staff" in shop.says(ADA, "queue")


# --- sleeping ---------------------------------------------------------------------------------------------------------


def test_it_sleeps_until_its_time_and_the_person_who_has_it_is_told(shop: Shop, code: str) -> None:
    assert shop.says(ADA, f"snooze {code} 2h").startswith(f"{code} is snoozed until ")
    assert shop.state(code) == "snoozed"
    assert "Ada has it, snoozed until" in shop.says(EVE, "queue")
    shop.clock.wait(minutes=118)
    due = shop.run(shop.delivery.wake_due())
    assert due is not None
    assert shop.state(code) == "snoozed"
    shop.clock.now = due
    assert shop.run(shop.delivery.wake_due()) is None
    shop.run(shop.delivery.idle())
    assert shop.state(code) == "claimed"
    assert shop.recorded.texts(ADA)[-1] == f"{code} is back: its snooze is over."
    assert "awake" not in "".join(shop.recorded.texts(EVE))


def test_it_wakes_when_its_person_writes(shop: Shop, code: str) -> None:
    shop.says(ADA, f"snooze {code} 2h")
    shop.says(BOB, "are you there?")
    assert shop.state(code) == "claimed"
    back = f"{code} is back: they’ve written."
    assert shop.recorded.texts(ADA)[-2] == back
    assert "are you there?" in shop.recorded.texts(ADA)[-1]
    shop.says(BOB, "hello?")
    assert shop.recorded.texts(ADA).count(back) == 1


def test_the_delivery_wakes_it_by_itself(shop: Shop, code: str) -> None:
    shop.says(ADA, f"snooze {code} 2h")
    told = len(shop.recorded.screens[ADA])
    shop.clock.wait(hours=2)
    shop.leap(2 * 3600)
    shop.until(lambda: len(shop.recorded.screens[ADA]) > told)
    assert shop.state(code) == "claimed"
    assert shop.recorded.texts(ADA)[-1] == f"{code} is back: its snooze is over."


def test_what_was_due_while_nobody_was_at_work_wakes_at_the_start(shop: Shop, code: str) -> None:
    shop.says(ADA, f"snooze {code} 2h")
    shop.clock.wait(hours=3)
    shop.crash()
    shop.run(shop.delivery.idle())
    assert shop.state(code) == "claimed"
    assert shop.recorded.texts(ADA)[-1] == f"{code} is back: its snooze is over."


def test_another_s_case_is_not_put_to_sleep(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    assert shop.says(EVE, f"snooze {code} 2h") == f"Ada has {code}, so it’s theirs to do. Ask them."
    assert shop.state(code) == "claimed"


def test_another_s_case_is_not_put_to_sleep_whatever_was_looked_at_before(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    eve, number = shop.mark(EVE), shop.ticket(code).case  # type: ignore[union-attr]
    with shop.writing() as tx:
        assert not Tickets(tx).snooze(number, eve, shop.clock() + timedelta(hours=2))
    ticket = shop.ticket(code)
    assert ticket is not None
    assert (ticket.state, ticket.holder, ticket.until) == ("claimed", shop.mark(ADA), None)


def test_a_time_that_is_none_is_asked_for(shop: Shop, code: str) -> None:
    assert shop.says(ADA, f"snooze {code} soon").startswith("Until when?")
    assert shop.state(code) == "waiting"


@pytest.mark.parametrize(
    "words",
    [
        "please call me back on 07700 900889, want to speak to a person",
        "it has 7 sprockets and I want a person to ring me after 6",
    ],
)
def test_the_words_that_ask_for_a_person_are_kept_for_them(shop: Shop, words: str) -> None:
    shop.staff(ADA)
    shop.says(BOB, words)
    code = shop.code(BOB)
    assert f"“{words}”" in shop.says(ADA, "queue")
    assert f"they: “{words}”" in shop.says(ADA, f"case {code}")
    assert "passed that on" in shop.says(BOB, "it is urgent"), "the first that is passed on is said to be"
    for file in (shop.folder).rglob("*.db*"):
        assert b"07700" not in file.read_bytes(), "what they wrote is encrypted"


def test_a_bare_word_for_a_person_is_no_message_to_them(shop: Shop) -> None:
    shop.staff(ADA)
    shop.says(BOB, "person")
    assert "“" not in shop.says(ADA, "queue")
