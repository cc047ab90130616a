"""What staff put right of a wheel, halves of codes, and people whom nobody knows."""

import pytest

from tests.counter.shop import Shop

ADA, BOB = "ada", "bob"


@pytest.fixture(autouse=True)
def _ada(shop: Shop) -> None:
    shop.staff(ADA)


def tool(told: str) -> str:
    """The tool that a reply names."""
    return told.partition("Tool: “")[2].partition("”")[0]


# --- a wheel ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", ["no 40", "no it is 40", "its 40 not 24", "sorry, 40", "no, 40 mm", "it's 40, not 24"])
def test_a_width_is_put_right(shop: Shop, line: str) -> None:
    assert tool(shop.says(ADA, "4n 24")) == "the small four"
    assert tool(shop.says(ADA, line)) == "the big four"


@pytest.mark.parametrize("line", ["no it is 12", "no 12", "its 12 not 20", "no, 12 splines"])
def test_a_count_is_put_right(shop: Shop, line: str) -> None:
    shop.says(ADA, "20spl fw")
    assert "the count is 12" in shop.says(ADA, line)


def test_how_it_turns_is_put_right_and_the_rest_stays(shop: Shop) -> None:
    shop.says(ADA, "4n 24 stays")
    told = shop.says(ADA, "no, turns")
    assert "notches" in told
    assert "turns with the sprockets" in told


def test_after_a_loan_no_is_about_the_loan(shop: Shop) -> None:
    shop.says(ADA, "4n 24")
    shop.says(ADA, "lend big four to gus til 3")
    assert shop.says(ADA, "no, til 4") == "“the big four” is out with Gus, until 16:00."


def test_a_wheel_on_the_stand_is_put_right_in_its_case(shop: Shop) -> None:
    shop.says(ADA, "new blue tourer, Sam")
    shop.says(ADA, "4n 24")
    told = shop.says(ADA, "no 40")
    assert told.startswith("blue tourer, Sam")
    assert tool(told) == "the big four"


def test_nothing_told_is_nothing_put_right(shop: Shop) -> None:
    assert "the big four" not in tool(shop.says(ADA, "no 40"))


@pytest.mark.parametrize(
    "line", ["12spl deep 9sp turns", "12 deep cass", "deep 12spl turns", "12 spline deep lockring"]
)
def test_deep_tells_one_lockring_from_the_other(shop: Shop, line: str) -> None:
    told = shop.says(ADA, line)
    assert "Could be: cassette, deep 12-spline lockring" in told
    assert "Sure" not in told


def test_deep_notches_are_no_lockring(shop: Shop) -> None:
    assert tool(shop.says(ADA, "4 deep notches 24 mm")) == "the small four"


# --- halves of codes --------------------------------------------------------------------------------------------------


@pytest.fixture
def code(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setattr("tests.counter.shop.Codes.__call__", lambda self: "TTH-MNW")
    return shop.needs_a_person(BOB)


def test_half_a_code_stands_for_the_whole_and_is_no_part_of_the_words(shop: Shop, code: str) -> None:
    assert shop.says(ADA, "say TTH bring it in wed").startswith("Sent to TTH-MNW.")
    assert shop.recorded.texts(BOB)[-1].count("TTH") == 0
    assert shop.says(ADA, "note tth pays cash") == "Noted on TTH-MNW, for us alone: pays cash"
    assert shop.says(ADA, "case TTH").startswith("TTH-MNW, opened")
    assert shop.says(ADA, "close TTH 4n 40 fitted").startswith("TTH-MNW is closed:")
    assert shop.says(ADA, "reopen tth") == "TTH-MNW is open again, and yours."


@pytest.mark.parametrize("line", ["say ZZZ hello", "note XYZ pays cash"])
def test_half_of_no_code_goes_to_nobody(shop: Shop, code: str, line: str) -> None:
    shop.says(ADA, "claim TTH")
    before = len(shop.recorded.texts(BOB))
    assert shop.says(ADA, line).startswith("There’s no case ")
    assert len(shop.recorded.texts(BOB)) == before


def test_two_codes_that_begin_alike_are_asked_about(shop: Shop, code: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.counter.shop.Codes.__call__", lambda self: "TTH-222")
    shop.needs_a_person("cyd")
    told = shop.says(ADA, "note TTH pays cash")
    assert "note TTH-MNW pays cash" in told
    assert "note TTH-222 pays cash" in told


@pytest.mark.parametrize("line", ["say the wheel is ready", "say yes we can", "say can you come at five"])
def test_an_ordinary_word_is_half_of_no_code(shop: Shop, code: str, line: str) -> None:
    shop.says(ADA, "claim TTH")
    assert shop.says(ADA, line).startswith("Sent to TTH-MNW.")
    assert line.removeprefix("say ") in shop.recorded.texts(BOB)[-1]


# --- names that nobody has --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("line", ["tell carl were full thu", "tell kat to come at 5", "message zed its done"])
def test_a_name_that_nobody_has_is_told_nothing(shop: Shop, code: str, line: str) -> None:
    shop.says(ADA, "claim TTH")
    told = shop.says(ADA, line)
    assert told.startswith("I know nobody called “")
    assert "TTH-MNW" in told


def test_him_is_still_who_it_can_be(shop: Shop, code: str) -> None:
    shop.says(ADA, "claim TTH")
    assert "“say TTH-MNW were full thu”" in shop.says(ADA, "tell him were full thu")


@pytest.mark.parametrize(
    "line",
    ["is lenas bike ready", "is petes bike ready", "is tess's bike done", "lena's bike is done", "is kims bike fixed?"],
)
def test_no_other_bike_is_meant_by_a_name_that_none_has(shop: Shop, line: str) -> None:
    shop.says(ADA, "new pink kids bike, mum is Jo")
    assert shop.says(ADA, line).startswith("No bike here is called that.")


def test_a_tool_that_is_mended_is_no_bike(shop: Shop) -> None:
    shop.says(ADA, "new pink kids bike, mum is Jo")
    shop.says(ADA, "broken middle four")
    assert shop.says(ADA, "middle 4 is mended").startswith("Good. “the middle four” goes here:")


def test_a_bike_is_found_by_its_owner_however_it_was_written_down(shop: Shop) -> None:
    shop.says(ADA, "new green hybrid Omar 07700900555")
    shop.says(ADA, "new red mtb, Lena, fri")
    assert "Omar" in shop.says(ADA, "is omars bike ready")
    assert "Lena" in shop.says(ADA, "is lena's bike ready")
    assert "green hybrid" in shop.says(ADA, "is the green hybrid ready")


# --- what somebody still has ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    [
        "tomas returned everyday, still has the other twelve",
        "Tomas has returned the everyday; he still has the other twelve",
        "tomas back with the everyday but he still has the other twelve",
        "tomas brought back the everyday and still has other twelve",
    ],
)
def test_what_somebody_still_has_is_not_taken_back(shop: Shop, line: str) -> None:
    shop.says(ADA, "lend everyday to Tomas")
    shop.says(ADA, "lend other twelve to Tomas")
    assert "“the everyday twelve” is back from Tomas" in shop.says(ADA, line)
    assert "Lent out: Tomas" in shop.says(ADA, "who has other twelve")


@pytest.mark.parametrize("line", ["ben still has the big four", "ben still has a big four", "ben has the big four"])
def test_what_somebody_has_is_not_lent_to_them_once_more(shop: Shop, line: str) -> None:
    shop.says(ADA, "lend big four to Ben")
    told = shop.says(ADA, line)
    assert "is out with" not in told
    assert "We have 1. Lent out: Ben" in shop.says(ADA, "who has big four")
