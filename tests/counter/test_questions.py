"""Questions at the bench are answered from tools and notes, and are never taken for what somebody sees."""

from textwrap import wrap

import pytest

from tests.counter.shop import Shop

ADA = "ada"


@pytest.fixture(autouse=True)
def _ada(shop: Shop) -> None:
    shop.staff(ADA)


@pytest.mark.parametrize(
    ("text", "reply"),
    [
        ("where is the twenty", "“the twenty”: wall A, peg 5. We have 2."),
        ("where’s the big four?", "“the big four”: wall A, peg 9. We have 2."),
        ("where do we keep the crab claw", "“the crab claw”: wall A, peg 3. We have 2."),
        ("is the 40 in stock", "“the big four”: wall A, peg 9. We have 2."),
        ("do we have a 4 notch 24", "“the small four”: wall A, peg 7. We have 2."),
        ("how many whips", "“the whip”: wall A, peg 11. We have 4."),
    ],
)
def test_where_a_tool_is(shop: Shop, text: str, reply: str) -> None:
    assert shop.says(ADA, text) == reply


def test_who_has_it(shop: Shop) -> None:
    shop.says(ADA, "lend the twenty to Ben until 17:00")
    for text in ("where is the twenty", "who has the twenty"):
        told = shop.says(ADA, text)
        assert "We have 1. Lent out: Ben, since " in told
        assert told.endswith(", due 17:00.")


@pytest.mark.parametrize(
    "text", ["torque 12 cass", "how tight does a cassette go", "what torque for the everyday twelve"]
)
def test_how_tight(shop: Shop, text: str) -> None:
    assert shop.says(ADA, text).endswith("Back on: 40 N·m, or what’s stamped on it.")


def test_which_way_it_turns(shop: Shop) -> None:
    assert "anticlockwise" in shop.says(ADA, "which way 12 cass")
    assert "Left-hand at the rear sprockets: " in shop.says(ADA, "left hand thread?")
    shop.says(ADA, "4n 40")
    told = shop.says(ADA, "left hand thread?")
    assert told.startswith("single-speed freewheel, 4 notches, 40 mm: To loosen it, turn anticlockwise")
    assert "by hand" in shop.says(ADA, "how tight"), "it is about the wheel that they are at"


@pytest.mark.parametrize(
    "text",
    [
        "left hand thread?",
        "how tight",
        "torque 12 cass",
        "where is the twenty",
        "what grease",
        "can I hit it",
        "why 12",
    ],
)
def test_a_question_is_no_reading(shop: Shop, text: str) -> None:
    told = shop.says(ADA, text)
    assert not told.startswith(("You see:", "Sure:", "Fairly sure:", "Most likely:"))
    assert "Missing:" not in told
    shop.says(ADA, "4n")
    shop.says(ADA, text)
    assert shop.says(ADA, "40").startswith("Sure: single-speed freewheel, 4 notches, 40 mm."), "the wheel is still open"


def test_the_notes_answer_other_questions(shop: Shop) -> None:
    shop.says(ADA, "12 spl 23.4 stays")
    assert "grease" in shop.says(ADA, "what grease")
    assert "no answer to" in shop.says(ADA, "who won the league")


def test_what_a_tool_costs(shop: Shop) -> None:
    assert shop.says(ADA, "how much is the fat twelve").startswith("Price: £8.00. Deposit: £10.00.")
    assert shop.says(ADA, "do we sell the big four").startswith("Deposit: £12.00. “the big four”: wall A")


@pytest.mark.parametrize(
    ("text", "begins"),
    [("20spl", "Fairly sure: "), ("2n", "You see: the fitting has notches and the count is 2.\nCould be: ")],
)
def test_one_look_is_never_sure_and_nothing_is_odd_in_it(shop: Shop, text: str, begins: str) -> None:
    told = shop.says(ADA, text)
    assert told.startswith(begins)
    assert "\nSure: " not in told
    assert ("Tool: " in told) is (text == "20spl")
    assert "doesn’t fit the rest" not in told
    assert "100 %" not in told


def test_help_is_two_screens_with_tools_of_this_shop(shop: Shop) -> None:
    first, second = shop.says(ADA, "help"), shop.says(ADA, "more")
    names = [tool.name for tool in shop.guide.shop.tools_file.tools]
    for screen in (first, second):
        assert any(name in screen for name in names)
        assert len([row for line in screen.splitlines() for row in wrap(line, 60)]) <= 24
    assert "claim" in first
    assert "reopen" in second
