"""Prices of work that the shop does and of work that it does not, whether a tool fits, and tools kept no longer."""

from collections.abc import Iterator

import pytest

from tests.counter.lines import Bench, bench


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with pytest.MonkeyPatch.context() as patched, bench() as opened:
        patched.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield opened


@pytest.mark.parametrize(
    ("text", "job"),
    [
        ("price full service", "full service"),
        ("how much for a puncture", "puncture"),
        ("how much we charge wheel true", "wheel true"),
        ("price new chain fitted", "new chain fitted"),
        ("cost of a brake bleed", "brake bleed"),
        ("what do we charge for a wheel build", "wheel build"),
    ],
)
def test_work_that_is_in_no_list_of_the_shop_has_no_price_there(made: Bench, text: str, job: str) -> None:
    said = made.comes(text).said
    assert f"nothing for “{job}”" in said
    assert "£" not in said


@pytest.mark.parametrize(
    ("text", "money"),
    [
        ("cost to swap a cassette", ["12.00"]),
        ("price to fit new freewheel", ["12.00"]),
        ("what do we charge to take off a stuck freewheel", ["18.00"]),
        ("prices", ["6.00", "12.00", "18.00"]),
        ("price list", ["6.00", "12.00", "18.00"]),
        ("what do we charge", ["6.00", "12.00", "18.00"]),
    ],
)
def test_the_price_is_that_of_the_work_that_is_asked_about(made: Bench, text: str, money: list[str]) -> None:
    said = made.comes(text).said
    assert [each for each in ("6.00", "12.00", "18.00") if f"£{each}" in said] == money


@pytest.mark.parametrize(
    ("text", "fits"),
    [
        ("does 20 fit 21.6", True),
        ("does the twenty fit a 21.6", True),
        ("will the fat 12 fit 23mm", True),
        ("can the two prong go on 25mm", True),
        ("21.6 does the 20 fit", True),
        ("20 fit 21.5?", True),
        ("does the twenty fit 23", False),
        ("will the everyday 12 fit 22.8", False),
        ("does 4 notch 40 fit 32", False),
        ("does the fat twelve fit 20 splines 23 mm", False),
    ],
)
def test_whether_a_tool_fits_what_was_measured_is_said(made: Bench, text: str, fits: bool) -> None:
    said = made.comes(text).said
    assert said.startswith("By its size, yes" if fits else "No, not at")
    assert "is for:" in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("what fitting is two notches 6 sprockets", "freewheel, 2 notches, 25 mm"),
        ("which kind is 4 notches 40", "Sure: single-speed freewheel, 4 notches, 40 mm"),
        ("what freewheel has 20 splines", "freewheel, 20 splines."),
        ("smooth one no splines how get it off", "nothing for a tool to grip"),
    ],
)
def test_a_question_that_tells_of_a_wheel_is_answered_as_one(made: Bench, text: str, said: str) -> None:
    assert said in made.comes(text).said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("do i need whip for a freewheel", "No, not for that."),
        ("do we need the whip for a cassette", "Yes, it’s for that."),
        ("is the crab claw needed for a freewheel", "No, not for that."),
        ("what means outer notches", "outside edge of a ring"),
        ("wots the diff cassette n freewheel", "A freewheel screws on in one piece"),
        ("difference fat 12 and odd 12", "12-spline freewheel remover of the odd size"),
        ("which side small four hang on", "wall A, peg 7"),
        ("which hook for crab claw", "wall A, peg 3"),
        ("lena hasnt brought the two prong has she", "wall A, peg 6"),
        ("this lockring i turn left or right for open", "The ring unscrews clockwise"),
        ("decline no room this wk", "Nobody waits for a yes or a no."),
        ("no decline, say full til thursday", "Nobody waits for a yes or a no."),
        ("yes accept that one", "Nobody waits for a yes or a no."),
        ("hrs wed", "10:00 to 13:00"),
        ("until what hour we work today", "13:15 to 17:00"),
        ("we got a two prong in", "wall A, peg 6"),
        ("does the odd twelve do a 22.6", "By its size, yes"),
        ("3spd no splines, no notches", "nothing for a tool to grip"),
        ("jonas keeps the twenty till mon instead", "extend the twenty to Jonas"),
    ],
)
def test_other_questions_are_answered_and_do_nothing(made: Bench, text: str, said: str) -> None:
    came = made.comes(text)
    assert said in came.said
    assert not came.changed


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("lena return the whip", "-chain-whip out Lena"),
        ("Please record that Tomas has returned the hook spanner.", "-hook-spanner out Tomas"),
        ("keep one everyday 12 for Tomas until 3 he is coming", "kept Tomas 2026-03-07 15:00"),
        ("lend the twenty to ana return fri", "+remover-20-spline out Ana 2026-03-13"),
        ("Please record: twenty lent to Ana, return Friday 16:00", "+remover-20-spline out Ana 2026-03-13 16:00"),
    ],
)
def test_a_word_of_what_is_done_is_no_name(made: Bench, text: str, changed: str) -> None:
    assert changed in made.comes(text).changed


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("ana doesnt need the fat twelve anymore", "unkeep the fat twelve for Ana"),
        ("cancel the fat twelve for ana", "unkeep the fat twelve for Ana"),
        ("Ana does not need the fat twelve anymore, cancel Monday", "unkeep the fat twelve for Ana"),
        ("cancel the reservation for ana", "unkeep the fat twelve for ana"),
    ],
)
def test_a_tool_that_is_kept_is_freed_in_anybodys_words(made: Bench, text: str, line: str) -> None:
    made.shop.says("ada", "keep the fat twelve for Ana monday 10")
    assert line in made.shop.says("ada", text)
    assert "kept for Ana any more" in made.shop.says("ada", "unkeep the fat twelve")


def test_what_is_said_of_another_tool_undoes_no_loan(made: Bench) -> None:
    made.shop.says("ada", "lend the big four to Jo until 4")
    assert "unkeep fat twelve for ana" in made.shop.says("ada", "cancel the fat twelve for ana")
    assert "isn’t kept for anybody" in made.shop.says("ada", "yes")
    assert "Jo" in made.shop.says("ada", "who has the big four")
    made.shop.says("ada", "returned the big four from Jo")


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("lend the twenty to Ana back wed dinner time 12", "out Ana 2026-03-11 12:00"),
        ("20 to pete back wed dinner time 12", "out Pete 2026-03-11 12:00"),
        ("lend the twenty to Ana fri noonish or so 4", ""),
        ("small four mended hang it up again", "-remover-4-notch-24 lost"),
    ],
)
def test_a_day_is_no_part_of_a_name(made: Bench, text: str, changed: str) -> None:
    came = made.comes(text).changed
    assert changed in came if changed else not came


def test_an_hour_on_which_a_bike_is_wanted_is_kept(made: Bench) -> None:
    assert "for Mon 9 Mar, 11:00" in made.comes("new green tourer for Tomas monday 11").said
    assert "for Sat 14 Mar.\n" in made.comes("new green tourer for Tomas saturday").said


def test_a_decline_with_its_reason_says_that_nobody_asked(made: Bench) -> None:
    assert made.comes("decline say full til thursday").said == "Nobody waits for a yes or a no."
