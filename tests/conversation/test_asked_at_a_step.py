"""Questions with the tool in hand, and short cuts that somebody mentions beside a report."""

import pytest

from tests.words import words_of
from triagebot.conversation import Guide
from triagebot.testing import ScriptedPerson

FREEWHEEL = ("6 sprockets, the middle stays still", "4 notches", "24 mm with a calliper")
CASSETTE = (
    "9 sprockets, it turns with it",
    "12 splines",
    "9 splines on the body, one narrower",
    "23.4 mm with a calliper",
)
FIXED = ("one sprocket", "the pedals always turn with the wheel", "outer notches, 3 of them", "38 mm with a calliper")


def _at_step(guide: Guide, told: tuple[str, ...], *said: str) -> ScriptedPerson:
    person = ScriptedPerson(guide)
    person.says(*told, *["don't know"] * 3, "steps", *said)
    assert person.case.now.at("guided") is not None
    return person


@pytest.mark.parametrize(
    "text", ["it clicked, is it broken?", "big crack! have I broken it?", "it moved a bit, did it snap?"]
)
def test_whether_something_broke_is_no_news_that_it_did(guide: Guide, text: str) -> None:
    person = _at_step(guide, FREEWHEEL, "done", "it's home")
    person.says(text)
    assert person.case.now.at("guided") is not None


@pytest.mark.parametrize("text", ["it snapped", "it broke, what now?", "is it bad that it broke?", "something broke"])
def test_that_something_broke_ends_the_work(guide: Guide, text: str) -> None:
    person = _at_step(guide, FREEWHEEL, "done", "it's home")
    person.says(text)
    assert person.case.now.outcome == "person"


def test_a_short_cut_told_beside_a_report_is_warned_of_first(guide: Guide) -> None:
    person = _at_step(guide, CASSETTE, "the skewer is out")
    said = words_of(person.says("it's home, i've tied an old belt round the cogs instead of a chain whip"))
    assert said.startswith("A chain whip, please")
    assert "Step 3 of 5" in said
    person = _at_step(guide, CASSETTE, "the skewer is out")
    assert words_of(person.says("it's all the way home now, thanks")).startswith("WARNING")


def test_the_whip_pulls_against_the_tool(guide: Guide) -> None:
    person = _at_step(guide, CASSETTE, "the skewer is out", "it's home")
    assert "pulls clockwise" in words_of(person.says("which way does the whip go?"))
    person = _at_step(guide, FREEWHEEL)
    assert "You need no chain whip" in words_of(person.says("do I pull the whip left or right?"))


def test_the_whip_of_a_fixed_wheel_turns_the_sprocket(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says(*FIXED, *["don't know"] * 3)
    assert person.case.now.outcome == "answer"
    assert "anticlockwise, once the ring is off" in words_of(person.says("which way does the whip go?"))


def test_the_axle_stays_where_it_is(guide: Guide) -> None:
    person = _at_step(guide, FREEWHEEL)
    assert "It stays where it is" in words_of(person.says("won't the axle fall out?"))


def test_how_it_goes_back_is_no_report(guide: Guide) -> None:
    person = _at_step(guide, FREEWHEEL, "done", "it's home")
    assert "pedalling" in words_of(person.says("how does she put it back on?"))


def test_what_to_do_with_the_cable_is_no_trouble_yet(guide: Guide) -> None:
    person = _at_step(guide, ("electric bike with a motor in the back wheel", *CASSETTE))
    assert "Unplug the motor cable" in words_of(person.says("what do I do with the cable"))
    said = words_of(person.says("done"))
    assert "Push the tool in by hand" in said
