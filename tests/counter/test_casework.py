"""The queue and what is done with a case: looked at, taken on, given back, asleep, closed, answered."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.counter.shop import Shop
from tests.delivery.office import Dead
from triagebot.cases.cards import card_link
from triagebot.conversation import Guide, edition
from triagebot.conversation.events import Closed
from triagebot.messages import Arrived, Commanded, Pressed, Said, Sent
from triagebot.store.post import Post
from triagebot.store.staff import Tickets

ADA, EVE, BOB, CYD = "ada", "eve", "bob", "cyd"


@pytest.fixture
def code(shop: Shop) -> str:
    """Bob waits for a person; Ada and Eve are staff."""
    shop.staff(ADA)
    shop.staff(EVE)
    return shop.needs_a_person(BOB)


def closed(shop: Shop, who: str = BOB) -> Closed | None:
    held = shop.held(who)
    assert held is not None
    return held.case.closed


def deeds(shop: Shop) -> list[str]:
    return [what for (what,) in shop.rows("deeds", "what") if what != "joined"]


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
    newer = Guide(replace(shop.guide.topic, digest="f" * 64), shop.guide.shop, shop.guide.spoken)
    shop.close()
    shop.guide = newer
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


# --- ending it --------------------------------------------------------------------------------------------------------


def test_closed_with_what_it_was(shop: Shop, code: str) -> None:
    answer = shop.says(ADA, f"close {code} 4n 24 did not fit")
    assert answer == f"{code} is closed: freewheel, 4 notches, 24 mm. The remover didn’t fit."
    event = closed(shop)
    assert event is not None
    assert (event.fastening, event.fitted, event.by) == ("freewheel-4-notch-24", False, "Ada")
    assert shop.state(code) == "closed"
    assert f"Closed by Ada: {answer.split(': ', 1)[1]}" in shop.says(EVE, f"case {code}")


def test_what_fitted_was_what_was_named(shop: Shop) -> None:
    shop.staff(ADA)
    shop.says(BOB, "it stays still, 4 notches, 40 mm by calliper")
    code = shop.code(BOB)
    shop.says(ADA, f"close {code} fitted")
    event = closed(shop)
    assert event is not None
    assert (event.fastening, event.fitted) == ("freewheel-4-notch-40", True)


def test_what_nobody_named_stays_unknown(shop: Shop, code: str) -> None:
    shop.says(ADA, f"close {code} did not fit")
    event = closed(shop)
    assert event is not None
    assert (event.fastening, event.fitted) == (None, False)


@pytest.mark.parametrize("rest", ["", "12 spl fitted", "asdf", "the blue one fitted"])
def test_what_is_not_clear_closes_nothing(shop: Shop, code: str, rest: str) -> None:
    shop.says(ADA, f"close {code} {rest}")
    assert closed(shop) is None
    assert shop.state(code) == "waiting"


def test_said_again_it_replaces_what_was_said(shop: Shop, code: str) -> None:
    shop.says(ADA, f"close {code} 4n 24 fitted")
    shop.says(ADA, f"close {code} 4n 40 fitted")
    event = closed(shop)
    assert event is not None
    assert event.fastening == "freewheel-4-notch-40"
    assert deeds(shop) == ["closed", "closed"]


def test_another_s_case_is_not_closed(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    assert shop.says(EVE, f"close {code} fitted").startswith("Ada has")
    assert closed(shop) is None


def test_closing_disturbs_no_conversation(shop: Shop) -> None:
    """A button that was under the person's thumb when somebody closed their case still counts."""
    shop.staff(ADA)
    shop.says(BOB, "4 notches")
    shown = shop.recorded.last(BOB)
    shop.says(ADA, f"close {shop.code(BOB)} not tried")
    assert shop.brings(BOB, Pressed(shown.case, shown.turn, "unsure")).outcome == "applied"


def test_nor_a_question_about_being_forgotten(shop: Shop, code: str) -> None:
    shop.says(BOB, "forget me")
    shop.says(ADA, f"close {code} fitted")
    assert "I’ve deleted everything" in shop.says(BOB, "yes")


# --- answering its person ---------------------------------------------------------------------------------------------


def test_a_canned_reply_goes_to_the_person_as_from_a_person(shop: Shop, code: str) -> None:
    before = len(shop.recorded.texts(BOB))
    answer = shop.says(ADA, f"say {code} ready")
    assert answer == f"Sent to {code}: “Your wheel is ready. You can fetch it whenever we are open.”"
    (text,) = shop.recorded.texts(BOB)[before:]
    assert text.startswith("From Ada at The Lantern & Ratchet (a person):")
    assert text.endswith("Your wheel is ready. You can fetch it whenever we are open.")


def test_the_question_that_is_open_stays_open_below_it(shop: Shop) -> None:
    shop.staff(ADA)
    shop.says(BOB, "4 notches")
    shop.says(ADA, f"say {shop.code(BOB)} photo")
    shown = shop.recorded.last(BOB)
    assert shown.reply.question is not None
    assert shop.brings(BOB, Pressed(shown.case, shown.turn, "unsure")).outcome == "applied"


def test_a_reply_that_there_is_not_is_not_sent(shop: Shop, code: str) -> None:
    """A word that is nearly the name of one is asked about; what is none is said as it is."""
    before = len(shop.recorded.texts(BOB))
    assert shop.says(ADA, f"say {code} redy") == "There’s no reply called “redy”. You can say: ready."
    assert "“canned” lists the ready replies" in shop.says(ADA, f"say {code}")
    assert len(shop.recorded.texts(BOB)) == before
    assert deeds(shop) == []


def test_who_cannot_be_reached_is_said_not_to_be(shop: Shop, code: str) -> None:
    with shop.writing() as tx:
        Post(tx).gone(tx.lookup_hash(f"{shop.recorded.name}:{BOB}"), shop.clock(), "gone")
    assert shop.says(ADA, f"say {code} ready") == f"I can’t reach {code} on any channel."
    assert deeds(shop) == []


def test_the_list_of_replies(shop: Shop) -> None:
    shop.staff(ADA)
    assert "– ready: It is ready" in shop.says(ADA, "canned")


# --- who did what -----------------------------------------------------------------------------------------------------


def test_the_history_tells_who_did_what_in_order(shop: Shop, code: str) -> None:
    assert shop.says(ADA, f"history {code}") == f"Nobody has done anything with {code} yet."
    for who, what in ((ADA, "claim"), (ADA, "say"), (ADA, "snooze"), (ADA, "release"), (EVE, "close")):
        rest = {"say": "ready", "snooze": "2h", "close": "fitted 4n 40"}.get(what, "")
        shop.says(who, f"{what} {code} {rest}")
    rows = shop.says(EVE, f"history {code}").splitlines()[1:]
    told = [row.split(" ", 1)[1] for row in rows]
    assert told[:2] == ["Ada took it", "Ada sent “ready”"]
    assert told[2].startswith("Ada snoozed it until ")
    assert told[3] == "Ada gave it back"
    assert told[4] == "Eve closed it: single-speed freewheel, 4 notches, 40 mm. The remover fitted."


def test_looking_is_no_deed(shop: Shop, code: str) -> None:
    for text in ("queue", f"case {code}", f"history {code}", "canned", code):
        shop.says(ADA, text)
    assert deeds(shop) == []


def test_whose_case_was_closed_is_not_told_that_somebody_should_look(shop: Shop, code: str) -> None:
    shop.says(ADA, f"close {code} 4n 40 fitted")
    assert "The shop has closed this case." in shop.says(BOB, "asdf jkl")
    assert shop.state(code) == "closed"
    shop.says(BOB, "person")
    assert shop.says(BOB, "asdf jkl").startswith("I’ve passed that on")
    assert shop.state(code) == "waiting"


# --- taken by number, opened again, closed against what it says ------------------------------------------------------


def test_claims_by_number_and_the_next(shop: Shop, code: str) -> None:
    second, third = shop.needs_a_person(CYD), shop.needs_a_person("dee")
    shop.says(ADA, "queue")
    assert shop.says(ADA, "claim 2").startswith(f"{second} is yours.")
    assert shop.says(EVE, "claim").startswith(f"{code} is yours.")
    assert shop.says(EVE, "claim next").startswith(f"{third} is yours.")
    assert shop.says(EVE, "claim") == "Nobody is waiting."


def test_a_number_means_the_row_that_they_have_read(shop: Shop, code: str) -> None:
    second = shop.needs_a_person(CYD)
    shop.says(ADA, "queue")
    shop.says(EVE, f"claim {code}")
    assert second in shop.says(ADA, "case 2"), "whatever has come of the first since"


def test_a_claim_says_what_they_wrote_last(shop: Shop, code: str) -> None:
    shop.says(BOB, "can I come at five?")
    assert shop.says(ADA, "claim") == f"{code} is yours. They wrote: “can I come at five?”"


def test_a_closed_case_is_opened_again(shop: Shop, code: str) -> None:
    assert shop.says(ADA, f"reopen {code}") == f"{code} isn’t closed."
    shop.says(ADA, f"close {code} 4n 40 fitted")
    assert shop.says(EVE, f"reopen {code}") == f"{code} is open again, and yours."
    ticket = shop.ticket(code)
    assert ticket is not None
    assert (ticket.state, ticket.holder) == ("claimed", shop.mark(EVE))


def test_closing_against_what_the_case_says_is_asked_about_once(shop: Shop, code: str) -> None:
    told = shop.says(ADA, f"close {code} 20 spl fitted")
    assert told.startswith(f"{code} says otherwise: single-speed freewheel, 4 notches, 40 mm.")
    assert closed(shop) is None
    assert shop.says(EVE, f"close {code} 20 spl fitted").startswith(f"{code} says otherwise"), "each for themselves"
    assert shop.says(ADA, f"close {code} 20 spl fitted").startswith(f"{code} is closed: ")


def test_closing_again_says_what_it_said_before(shop: Shop, code: str) -> None:
    shop.says(ADA, f"close {code} 4n 40 fitted")
    told = shop.says(ADA, f"close {code} 4n 40 did not fit")
    assert "Before, it said: single-speed freewheel, 4 notches, 40 mm. The remover fitted." in told
