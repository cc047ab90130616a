"""Widths as people tell them: by a coin, in two breaths, behind another answer."""

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.conversation.understanding import understand
from triagebot.identify import BoundReading
from triagebot.testing import ScriptedPerson

#: Two pence is 25.9 mm wide, ten pence 24.5 (the mint's published sizes).
WIDER = (
    "2p, wider", "2p wider", "2p coin and its wider", "2p coin. its bigger", "with a 2p. wider", "2p: wider",
    "used a 2p coin, its wider than the coin", "its wider than the coin, i used a 2p", "wider than a 2p",
    "coin is 2p and the ring is wider than the coin",
)  # fmt: skip
NARROWER = (
    "2p. narrower",
    "i used a 2p, fitting is narrower",
    "2p smaller",
    "2p is wider",
    "2p coin, the coin is wider",
)


@pytest.mark.parametrize("text", [*WIDER, *NARROWER])
def test_which_is_wider(text: str) -> None:
    (fact,) = understand(text, shipped_guide().setting("en", "size")).facts
    assert isinstance(fact.reading, BoundReading)
    found = (fact.reading.low, fact.reading.high)
    assert found == ((25.9, None) if text in WIDER else (None, 25.9))


@pytest.mark.parametrize("text", ["used a 2p coin, its wider than the coin", "2p, wider", "38", "38 mm"])
def test_what_tells_two_kinds_apart_is_understood_though_nothing_is_open(text: str) -> None:
    person = ScriptedPerson(shipped_guide())
    person.says("it stays still, 4 notches", "wheel out, 1 sprocket", "dunno", "no idea")
    assert person.case.now.outcome == "look-alike"
    person.says(text)
    assert any(reading.question == "size" for reading in person.case.now.readings)


def test_the_nine_of_the_body_with_one_narrower_are_not_left_unread() -> None:
    meant = understand("nine splines, one narrower", shipped_guide().setting("en", "spin"))
    assert [fact.reading.question for fact in meant.facts] == ["body"]
    assert meant.unread == ""


@pytest.mark.parametrize("text", ["wheel out, 25 mm", "it stays still, 2 notches, wheel out, 25 mm"])
def test_a_width_behind_the_wheel_is_the_fitting_s(text: str) -> None:
    meant = understand(text, shipped_guide().setting("en", None))
    assert any(getattr(fact.reading, "mm", None) == 25 for fact in meant.facts)


@pytest.mark.parametrize("text", ["12 and the size is 21.8", "12, and the width was 21.8 with a calliper"])
def test_the_size_leads_to_the_number_behind_it(text: str) -> None:
    read = {
        fact.reading.question: fact.reading for fact in understand(text, shipped_guide().setting("en", "count")).facts
    }
    assert getattr(read["size"], "mm", None) == 21.8
    assert getattr(read["count"], "low", None) == 12


def test_what_it_measures_is_the_number_behind_it() -> None:
    meant = understand("12 and it measures 23mm", shipped_guide().setting("en", "count"))
    assert {fact.reading.question for fact in meant.facts} == {"count", "size"}


@pytest.mark.parametrize("text", ["actually 8 sorry i said 7", "8, i said 7 before", "i said 7 but its 8"])
def test_what_was_said_before_gives_way(text: str) -> None:
    (fact,) = understand(text, shipped_guide().setting("en", "sprockets")).facts
    assert getattr(fact.reading, "low", None) == 8
