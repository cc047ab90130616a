"""Short replies of the counter that are seldom needed: each is said once here."""

from tests.counter.shop import Shop
from tests.counter.waiting import ADA
from triagebot.messages import Edited


def test_a_case_that_one_has_already_is_woken_by_claiming_it_again(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    assert shop.says(ADA, f"claim {code}") == f"You already have {code}."
    shop.says(ADA, f"snooze {code} 2h")
    assert shop.says(ADA, f"claim {code}").startswith(f"{code} is yours.")
    assert shop.state(code) == "claimed"


def test_a_tool_that_is_not_for_sale_and_takes_no_deposit(shop: Shop) -> None:
    shop.staff(ADA)
    assert shop.says(ADA, "how much are the gloves from the basket").startswith(
        "It isn’t for sale, and it takes no deposit."
    )


def test_an_edit_changes_nothing_that_is_lent(shop: Shop) -> None:
    shop.staff(ADA)
    shop.bring(ADA, Edited("lent ben a twenty until five", of="before"))
    shop.settle()
    assert "I can’t use an edit or a forward here." in shop.recorded.texts(ADA)[-1]
    assert "Ben" not in shop.says(ADA, "who has the twenty")


def test_what_was_offered_is_taken_by_its_own_words(shop: Shop) -> None:
    shop.staff(ADA)
    assert "Which one?" in shop.says(ADA, "lend the four to Ben until 17:00")
    shop.says(ADA, "The Big Four")
    assert "Ben" in shop.says(ADA, "who has the big four")
    assert "Ben" not in shop.says(ADA, "who has the small four")
