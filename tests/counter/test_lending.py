"""Tools that go out and come home, and who is told of it."""

import pytest

from tests.conversation.guides import shipped_guide
from tests.counter.lends import out
from tests.counter.shop import Shop
from tests.store.engines import ON_BOTH
from triagebot.messages import Edited

pytestmark = ON_BOTH

pytestmark = pytest.mark.usefixtures("ada")

ADA, BOB, EVE = "ada", "bob", "eve"
#: The example shop has one of the first and two of the second; the third is for use in the shop only.
SMALL, CLAW, ODD = "the small four", "the crab claw", "the odd twelve (yellow tape)"


def test_what_is_lent_is_out_until_it_is_back(shop: Shop) -> None:
    said = shop.says(ADA, "lend small four to Ben until 17:00")
    assert said == f"“{SMALL}” is out with Ben, until 17:00. Deposit: £10.00."
    (loan,) = out(shop)
    assert (loan.tool, loan.to, loan.code, loan.by) == ("remover-4-notch-24", "Ben", None, "Ada")

    listed = shop.says(ADA, "out")
    assert listed.startswith("One tool is out:\n")
    assert f"“{SMALL}”: Ben, since " in listed
    assert listed.endswith(", due 17:00")

    assert shop.says(ADA, "returned the small four").startswith(f"“{SMALL}” is back from Ben. It goes here: ")
    assert out(shop) == ()
    assert shop.says(ADA, "out") == "Everything’s in its place."
    assert shop.says(ADA, "returned small four") == f"“{SMALL}” isn’t out."


def test_what_is_out_does_not_hang_there(shop: Shop) -> None:
    home = shop.says(ADA, "which does the crab claw fit")
    assert home.endswith("We have 2.")
    shop.says(ADA, "lend crab claw to Ben")
    away = shop.says(ADA, "which does the crab claw fit").splitlines()
    assert away[-2].endswith("We have 1.")
    assert away[-1].startswith("Lent out: Ben, since ")

    shop.says(ADA, "lend crab claw to Cyd")
    gone = shop.says(ADA, "which does the crab claw fit").splitlines()
    assert gone[-2] == "None on the wall." or gone[-2].endswith("none on the wall.")
    assert "Ben" in gone[-1]
    assert "Cyd" in gone[-1]
    assert shop.says(ADA, "lend crab claw to Dee").startswith(f"Every “{CLAW}” is out: Ben, since ")
    assert len(out(shop)) == 2


def test_a_line_says_that_its_remover_is_out(shop: Shop) -> None:
    shop.says(ADA, "lend big four to Ben")
    told = shop.says(ADA, "4n 40").splitlines()
    assert told[-1].startswith("Lent out: Ben, since ")


def test_who_brings_one_of_two_is_asked(shop: Shop) -> None:
    shop.says(ADA, "lend crab claw to Ben")
    shop.says(ADA, "lend crab claw to Cyd")
    assert shop.says(ADA, "returned crab claw") == f"Who had it? Ben or Cyd. “returned {CLAW} from …”"
    assert "is out: Ben, since" in shop.says(ADA, "returned crab claw from Dee")
    assert "is back from Cyd" in shop.says(ADA, "returned crab claw from CYD")
    assert [loan.to for loan in out(shop)] == ["Ben"]


@pytest.mark.parametrize(
    ("text", "reply"),
    [
        ("lend small four", f"Who to? “lend {SMALL} to Ben until 17:00”. A case code works as well as a name."),
        ("lend grommet to Ben", "We have no tool called “grommet”."),
        (f"lend {ODD} to Ben", f"“{ODD}” is for use in the shop only, so it stays here."),
        ("lend small four to Ben until the cows come home", "“the cows come home” isn’t a time I know."),
        ("lend small four to ZZ9-ZZ9", "There’s no case ZZ9-ZZ9."),
    ],
)  # fmt: skip
def test_what_is_not_clear_is_asked(shop: Shop, text: str, reply: str) -> None:
    assert shop.says(ADA, text).startswith(reply)
    assert out(shop) == ()


def test_a_loan_to_a_case_keeps_no_name_and_outlives_the_case(shop: Shop) -> None:
    code = shop.needs_a_person(BOB)
    assert f"with {code}, until" in shop.says(ADA, f"lend small four to {code} for 2h")
    assert "lent out a tool for it" in shop.says(ADA, f"history {code}")
    assert f": {code}, since " in shop.says(ADA, "out")

    shop.says(BOB, "forget me")
    shop.says(BOB, "yes")
    (loan,) = out(shop)
    assert (loan.to, loan.code) == ("", None)
    assert "somebody who asked to be forgotten" in shop.says(ADA, "out")
    assert "is back from somebody" in shop.says(ADA, "returned small four")


def test_what_is_late_says_so(shop: Shop) -> None:
    shop.says(ADA, "lend small four to Ben for 1h")
    shop.clock.wait(hours=30)
    assert shop.says(ADA, "out").endswith(", late")


def test_a_corrected_or_forwarded_message_lends_nothing(shop: Shop) -> None:
    shop.says(ADA, "lend small four to Ben", forwarded=True)
    shop.says(ADA, Edited("lend small four to Ben", of="1"))
    assert out(shop) == ()


@pytest.mark.parametrize("text", ["lend small four to Ben", "out", "returned small", "today"])
def test_who_is_not_staff_gets_what_any_text_gets(shop: Shop, text: str) -> None:
    for who in (BOB, "cyd"):
        shop.says(who, "hello")
    (ours, *asked), (theirs, *same) = (
        shop.says(who, said).split("\n\n") for who, said in ((BOB, text), ("cyd", "asdf jkl"))
    )
    assert asked == same  # the question that is open, and nothing of tools
    texts = shipped_guide().language("en").texts
    assert {ours, theirs} <= {texts(name) for name in ("not-understood-plain", "mood-other", "mood-chat")}
    assert out(shop) == ()


def test_the_day_is_summed_up_for_an_owner(shop: Shop) -> None:
    shop.staff(EVE, "owner")
    shop.needs_a_person(BOB)
    shop.says(ADA, "lend small four to Ben")
    assert shop.says(ADA, "today").startswith("One person is waiting")
    told = shop.says(EVE, "digest").splitlines()
    assert told[0].endswith("one conversation today.")
    assert told[1] == "– 1 went to a person"
    assert told[2].startswith("One is waiting for a person, since ")
    assert told[-1] == "One tool is lent out."
    assert "“today” sums up the day." in shop.says(EVE, "more")
    assert "sums up" not in shop.says(ADA, "more")


@pytest.mark.parametrize(
    ("text", "reply"),
    [
        ("lend big four for 2 days to Ben", "“the big four” is out with Ben, until "),
        ("lend 2 big fours to Ben until fri", "2 of “the big four” are out with Ben, until Fri "),
        ("lend both crab claws to Ben", "2 of “the crab claw” are out with Ben."),
        ("lend Ben the small four until 5pm", "“the small four” is out with Ben, until "),
        ("lend 3 big fours to Ben", "Only 2 of “the big four” hang there."),
        ("lend the 24 to Ben", "“the small four” is out with Ben."),
    ],
)
def test_lending_as_people_say_it(shop: Shop, text: str, reply: str) -> None:
    assert shop.says(ADA, text).startswith(reply)


def test_two_of_a_tool_take_two_deposits(shop: Shop) -> None:
    assert shop.says(ADA, "lend 2 big fours to Ben").endswith("Deposit: £24.00.")
    assert [loan.to for loan in out(shop)] == ["Ben", "Ben"]
    assert shop.says(ADA, "returned 2 big fours").startswith("2 of “the big four” are back from Ben.")
    assert out(shop) == ()


def test_everything_that_somebody_has_comes_back_at_once(shop: Shop) -> None:
    for text in ("lend big four to Ben", "lend crab claw to Ben", "lend small four to Cyd"):
        shop.says(ADA, text)
    assert shop.says(ADA, "returned everything").startswith("From whom? Ben or Cyd.")
    told = shop.says(ADA, "returned everything from Ben").splitlines()
    assert told == [
        "Ben is back with 2 tools:",
        "– “the big four”: wall A, peg 9",
        "– “the crab claw”: wall A, peg 3",
    ]
    assert [loan.to for loan in out(shop)] == ["Cyd"]
    assert shop.says(ADA, "returned everything from Ben") == "Ben has nothing of ours."
    assert shop.says(ADA, "returned everything").startswith("Cyd is back with it:")
    assert shop.says(ADA, "returned everything") == "Nothing is lent out."


def test_what_is_lost_or_broken_does_not_hang_there_until_it_is_found(shop: Shop) -> None:
    assert shop.says(ADA, "lost small four") == "Lost: “the small four”. One is left."
    assert shop.says(ADA, "broken small four") == "Broken: “the small four”. That was the last one."
    where = shop.says(ADA, "where is the small four")
    assert where.startswith("“the small four”: none on the wall just now. Gone: lost, since ")
    assert shop.says(ADA, "lost small four") == "There’s no “the small four” on the wall just now."
    assert "lost, since " in shop.says(ADA, "out")
    assert shop.says(ADA, "returned small four") == "“the small four” isn’t out."
    for _ in range(2):
        assert shop.says(ADA, "found small four") == "Good. “the small four” goes here: wall A, peg 7."
    assert shop.says(ADA, "found small four") == "“the small four” isn’t lost or broken."
    assert out(shop) == ()


def test_what_is_sold_is_gone_and_only_what_is_for_sale(shop: Shop) -> None:
    assert shop.says(ADA, "sold the fat twelve") == "Sold: “the fat twelve”, £8.00. 2 are left."
    assert shop.says(ADA, "sold big four").startswith("“the big four” isn’t for sale.")
    assert shop.says(ADA, "found fat twelve").endswith("isn’t lost or broken.")


def test_a_word_that_only_looks_like_it_is_a_line(shop: Shop) -> None:
    assert shop.says(ADA, "broken notches").startswith("Stop: ")


def test_what_is_gone_is_not_lent_in_the_digest(shop: Shop) -> None:
    shop.staff(EVE, "owner")
    shop.says(ADA, "lost small four")
    assert "lent" not in shop.says(EVE, "today")


def test_a_tool_by_its_whole_name_is_back(shop: Shop) -> None:
    shop.says(ADA, "lend the whip to Jo till 6")
    assert shop.says(ADA, "the whip is back").startswith("“the whip” is back from Jo.")
