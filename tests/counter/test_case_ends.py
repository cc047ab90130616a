"""What is done with a case that somebody has: closed, opened again, answered; and who did what."""

import pytest

from tests.counter.shop import Shop
from tests.counter.waiting import ADA, BOB, CYD, EVE, closed, deeds
from triagebot.messages import Pressed
from triagebot.store.post import Post


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
