"""Tools that are kept for somebody by word of the staff, notes on cases, and what of a line is only asked back."""

from datetime import timedelta

import pytest

from tests.counter.lines import Bench, bench
from tests.counter.shop import Shop
from tests.counter.waiting import ADA, EVE
from triagebot.store.loans import Loan, Loans


@pytest.fixture
def staffed(shop: Shop) -> Shop:
    shop.staff(ADA)
    return shop


def kept(shop: Shop) -> tuple[Loan, ...]:
    with shop.reading() as view:
        return tuple(loan for loan in Loans(view).out() if loan.why == "kept")


def test_a_tool_is_kept_until_the_shop_closes_on_that_day(staffed: Shop) -> None:
    said = staffed.says(ADA, "keep the twenty for Ana, Tuesday 16:00")
    assert said == "“the twenty” stays here for Ana, Tue 3 Mar 16:00. Free again after Tue 3 Mar 20:00."
    assert [loan.to for loan in kept(staffed)] == ["Ana"]
    assert "Kept for Ana, until Tue 3 Mar 16:00." in staffed.says(ADA, "where is the twenty")


def test_what_is_kept_goes_to_nobody_else(staffed: Shop) -> None:
    staffed.says(ADA, "keep the middle four for Ana tuesday")
    assert "“the middle four” is out: Ana" in staffed.says(ADA, "lend the middle four to Ben until fri").replace(
        "Every ", ""
    )
    assert staffed.says(ADA, "lend the middle four to Ana until fri").startswith("“the middle four” is out with Ana")
    assert kept(staffed) == ()


def test_what_is_kept_is_free_again_by_itself(staffed: Shop) -> None:
    staffed.says(ADA, "keep the middle four for Ana tuesday")
    staffed.clock.wait(hours=48)
    assert staffed.says(ADA, "where is the middle four") == "“the middle four”: wall A, peg 8. We have 1."
    assert staffed.says(ADA, "lend the middle four to Ben until fri").startswith("“the middle four” is out with Ben")


def test_somebody_who_asks_in_the_chat_hears_that_it_is_not_there(staffed: Shop) -> None:
    with staffed.reading() as view:
        before = Loans(view).away(staffed.clock(), 0)
    staffed.says(ADA, "keep the middle four for Ana tuesday")
    with staffed.reading() as view:
        assert Loans(view).away(staffed.clock(), 0) == {**before, "remover-4-notch-32": 1}
        assert Loans(view).away(staffed.clock() + timedelta(days=3), 0) == before


def test_who_it_is_kept_for_is_asked_and_it_can_be_let_go(staffed: Shop) -> None:
    assert staffed.says(ADA, "keep the twenty").startswith("Who for?")
    staffed.says(ADA, "keep the twenty for Ana")
    assert "isn’t kept for Ana any more" in staffed.says(ADA, "unkeep the twenty")
    assert kept(staffed) == ()
    assert "isn’t kept for anybody" in staffed.says(ADA, "dont keep the twenty")


def test_a_note_on_a_case_is_read_by_staff_alone(shop: Shop, code: str) -> None:
    before = len(shop.recorded.screens["bob"])
    assert shop.says(ADA, f"note {code}: pays cash") == f"Noted on {code}, for us alone: pays cash"
    assert "Ada: pays cash" in shop.says(EVE, f"case {code}")
    assert len(shop.recorded.screens["bob"]) == before
    assert shop.says(ADA, f"note {code}").startswith("What should it say?")


def test_mine_lists_what_a_member_has(shop: Shop, code: str) -> None:
    assert shop.says(ADA, "mine").startswith("You have no case.")
    shop.says(EVE, f"claim {code}")
    assert shop.says(ADA, "mine").startswith("You have no case.")
    assert code in shop.says(EVE, "mine")


def test_words_for_a_customer_without_a_code_are_asked_about(shop: Shop, code: str) -> None:
    shop.says(ADA, f"claim {code}")
    before = len(shop.recorded.screens["bob"])
    assert f"say {code} four is fine" in shop.says(ADA, "tell him four is fine")
    assert len(shop.recorded.screens["bob"]) == before
    shop.says(ADA, "yes")
    assert len(shop.recorded.screens["bob"]) > before


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> "object":
    with pytest.MonkeyPatch.context() as patched, bench() as opened:
        patched.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield opened


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("ben keeps red twelve till thu now", "extend the other twelve"),
        ("can ana have the fat twelve over sunday", "lend the fat twelve to ana until Sun 8 Mar 23:59"),
        ("chain whip for saturday girl today only", "lend the whip to saturday girl until 17:00"),
        ("whips to jonas til closing", "the pair of whips"),
        ("big 4 to school monday till friday", "lend the big four to school until Fri 13 Mar 18:00"),
        ("Ana no longer needs the twenty kept for her", "unkeep twenty for Ana"),
    ],
)
def test_what_is_not_sure_is_asked_back_with_its_day_and_changes_nothing(made: Bench, text: str, asked: str) -> None:
    came = made.comes(text)
    assert asked in came.said
    assert came.changed == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("diff between cassette and freewheel", "A freewheel screws on"),
        ("how do i do the spin test", "spin the sprockets backwards"),
        ("how much do we charge for removing a freewheel", "£6.00"),
        ("what time we close", "13:15 to 17:00"),
        ("who work monday", "I only know who’s on now."),
        ("fat twelve wot does it fit", "is for:\n– freewheel, 12 splines, 23 mm"),
        ("is fixed lockring left hand thread", "left-hand thread"),
        ("everyday vs red tape 12 how tell", "“the other twelve (red tape)”"),
    ],
)
def test_questions_in_any_words_are_answered(made: Bench, text: str, said: str) -> None:
    came = made.comes(text)
    assert said in came.said
    assert came.changed == ""


@pytest.mark.parametrize(
    ("text", "until"),
    [
        ("lend the twenty to kim until monday 5 oclock", "2026-03-09 17:00"),
        ("lend everyday twelve to ben til mon", "2026-03-09 23:59"),
        ("Please lend the middle four to Tomas until Wednesday, 15:00.", "2026-03-11 15:00"),
        ("snooze CODE til monday", "2026-03-09 09:00"),
        ("snooze CODE til tuesday", "2026-03-10 15:00"),
    ],
)
def test_days_on_which_the_shop_is_shut_end_and_begin_as_people_mean_them(made: Bench, text: str, until: str) -> None:
    assert until in made.comes(text.replace("CODE", made.codes[1])).changed
