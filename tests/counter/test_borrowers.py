"""Who has a tool and until when, as people write it: the time is never a part of the name."""

import pytest

from tests.counter.lends import out
from tests.counter.shop import Shop

pytestmark = pytest.mark.usefixtures("ada")

ADA = "ada"
#: Monday 2 March 2026, two minutes past ten, is when the first line is written: what is lent, to whom, until when.
LENT = [
    ("ben took the whip, back in half an hr", "Ben", "10:32"),
    ("lend everyday twelve to jonas 1h", "Jonas", "11:02"),
    ("lend whip to kim 2h", "Kim", "12:02"),
    ("lent big 4 to sara fri", "Sara", "Fri 6 Mar 18:00"),
    ("lend twenty to nia tmrw", "Nia", "Tue 3 Mar 15:00"),
    ("lend crab claw to nia 9.30", "Nia", "Tue 3 Mar 09:30"),
    ("lend the twenty to lou overnight", "Lou", "Tue 3 Mar 15:00"),
    ("lou has the fat 12 overnight", "Lou", "Tue 3 Mar 15:00"),
    ("lend the twenty to gus untl tomorow noon", "Gus", "Tue 3 Mar 12:00"),
    ("gus has the twenty untl tomorow noon", "Gus", "Tue 3 Mar 12:00"),
    ("lend long spanner to mia, back by noon", "Mia", "12:00"),
    ("lend whip to anna, 3 days", "Anna", "Thu 5 Mar 10:02"),
    ("lend pair of whips to Ed - half an hour", "Ed", "10:32"),
    ("lend everyday twelve to jake. back tomorrow", "Jake", "Tue 3 Mar 15:00"),
    ("lend big four to Jo Blake for a couple of hours", "Jo Blake", "12:02"),
    ("lend the two-prong to pip tues", "Pip", "Tue 3 Mar 20:00"),
    ("lend the fat 12 to Sun til 6", "Sun", "18:00"),
    ("lend the whip tomorrow to ana", "Ana", "Tue 3 Mar 15:00"),
]


@pytest.mark.parametrize(("line", "to", "until"), LENT, ids=[line for line, _, _ in LENT])
def test_a_time_behind_a_name_is_when_it_is_due(shop: Shop, line: str, to: str, until: str) -> None:
    said = shop.says(ADA, line)
    assert f"is out with {to}, until {until}." in said
    (loan,) = out(shop)
    assert loan.to == to
    assert loan.due is not None


@pytest.mark.parametrize("name", ["May", "Omar 07700900555", "Jo Blake", "Ana Maria Lind", "Wendy"])
def test_a_name_without_a_time_is_kept_whole(shop: Shop, name: str) -> None:
    shop.says(ADA, f"lend whip to {name}")
    assert [(loan.to, loan.due) for loan in out(shop)] == [(name, None)]


def test_last_words_about_a_time_that_mean_none_are_asked_about(shop: Shop) -> None:
    assert shop.says(ADA, "lend whip to kim 99 days").startswith("“99 days” isn’t a time I know.")
    assert out(shop) == ()


@pytest.mark.parametrize(
    "line",
    ["lou returned the fat 12", "lous back wth the fat 12", "lou brought the fat twelve", "got fat 12 back from lou"],
)
def test_what_was_lent_so_comes_home_by_the_name(shop: Shop, line: str) -> None:
    shop.says(ADA, "lend the fat 12 to lou overnight")
    told = shop.says(ADA, line)
    if "Do you mean" in told:
        told = shop.says(ADA, "yes")
    assert told.startswith("“the fat twelve” is back from Lou.")
    assert out(shop) == ()


def test_everything_comes_home_whenever_it_is_due(shop: Shop) -> None:
    shop.says(ADA, "lend the twenty to gus untl tomorow noon")
    shop.says(ADA, "lend big four to gus 2h")
    assert "Gus is back with 2 tools:" in shop.says(ADA, "gus bck w all")
    assert out(shop) == ()


def test_a_first_name_is_enough_where_only_one_has_it(shop: Shop) -> None:
    shop.says(ADA, "lend whip to Jo Blake")
    assert shop.says(ADA, "returned whip from jo").startswith("“the whip” is back from Jo Blake.")
    shop.says(ADA, "lend whip to Jo Blake")
    shop.says(ADA, "lend whip to Jo Sands")
    assert shop.says(ADA, "returned whip from jo").startswith("They don’t have that one.")


@pytest.mark.parametrize("whom", ["him", "her", "them", "somebody", "the customer"])
def test_nobody_is_called_him(shop: Shop, whom: str) -> None:
    assert shop.says(ADA, f"lend {whom} the small four").startswith("Who to?")
    assert shop.says(ADA, f"lend the small four to {whom} til 5").startswith("Who to?")
    assert out(shop) == ()


def test_him_is_the_one_who_was_lent_a_tool_last(shop: Shop) -> None:
    shop.says(ADA, "lend the twenty to gus til 5")
    assert "“lend the small four to Gus until 18:00”" in shop.says(ADA, "lend him the small four til 6")
    shop.says(ADA, "yes")
    assert [loan.to for loan in out(shop)] == ["Gus", "Gus"]


def test_me_is_who_writes(shop: Shop) -> None:
    assert "is out with Ada, until 16:00." in shop.says(ADA, "lend me the crab claw til 4")


def test_a_wheel_in_between_takes_nothing_from_undo(shop: Shop) -> None:
    shop.says(ADA, "lend fat twelve to rob til 5")
    assert shop.says(ADA, "20spl fw").startswith("Sure: ")
    assert shop.says(ADA, "undo") == "Taken back, not lent: the fat twelve."
    assert out(shop) == ()


def test_another_day_for_what_somebody_has(shop: Shop) -> None:
    assert "undo" not in shop.says(ADA, "pete wants it thu not tmrw")
    shop.says(ADA, "lend fat twelve to gus til tomorrow")
    assert "“extend the fat twelve to Gus til fri”" in shop.says(ADA, "gus has it til fri not tomorrow")
    assert shop.says(ADA, "yes").endswith("is out with Gus, until Fri 6 Mar 18:00.")


def test_a_time_alone_is_for_what_was_lent_last_and_stays_with_another_tool(shop: Shop) -> None:
    shop.says(ADA, "lend 20 to gus")
    assert shop.says(ADA, "til 4") == "“the twenty” is out with Gus, until 16:00."
    assert "“undo; lend small four to Gus until 16:00”" in shop.says(ADA, "no it was the small four")
    assert shop.says(ADA, "yes").endswith("“the small four” is out with Gus, until 16:00. Deposit: £10.00.")
    assert [loan.tool for loan in out(shop)] == ["remover-4-notch-24"]


def test_each_of_several_gets_their_own(shop: Shop) -> None:
    asked = shop.says(ADA, "lend the fat 12 to ivy and the twenty to ike til 6")
    assert "“lend the fat twelve to ivy; lend the twenty to ike until 18:00”" in asked
    shop.says(ADA, "yes")
    assert [(loan.to, loan.due is not None) for loan in out(shop)] == [("Ivy", False), ("Ike", True)]
    shop.says(ADA, "lend whip to ann, crab claw to bob and the big four to cy")
    shop.says(ADA, "dan has the everyday twelve and eli the small four")
    assert [loan.to for loan in out(shop)][2:] == ["Ann", "Bob", "Cy", "Dan", "Eli"]
