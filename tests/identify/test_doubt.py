"""Contradictory readings: which of them is the odd one out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import cases, questions, rear_sprockets
from triagebot.identify import (
    BoundReading,
    ChoiceReading,
    CountReading,
    Reading,
    SizeReading,
    UnsureReading,
    odd_one_out,
    rarity,
)
from triagebot.identify.doubt import SUSPICIOUS

MODEL = rear_sprockets().model

SPINS, STAYS = ChoiceReading("spin", "turns"), ChoiceReading("spin", "stays")
SPLINES, NOTCHES = ChoiceReading("fitting", "splines"), ChoiceReading("fitting", "notches")
TWELVE, FOUR = CountReading("count", 12, 12), CountReading("count", 4, 4)


def mm(size: float) -> SizeReading:
    return SizeReading("size", size, means="calliper")


@pytest.mark.parametrize(
    ("said", "odd"),
    [
        pytest.param([STAYS, NOTCHES, FOUR, mm(24.0)], None, id="all fit"),
        pytest.param([STAYS, SPLINES, CountReading("count", 20, 20), mm(21.5)], None, id="all fit, twenty"),
        pytest.param([STAYS, NOTCHES, TWELVE, mm(24.0)], "count", id="twelve notches"),
        pytest.param([STAYS, SPLINES, FOUR, mm(24.0)], "fitting", id="four splines at 24 mm"),
        pytest.param([STAYS, NOTCHES, FOUR, mm(15.2)], "size", id="the lock nut was measured"),
        pytest.param([SPINS, NOTCHES, FOUR, mm(24.0)], "spin", id="a freewheel that spins"),
    ],
)
def test_the_odd_one_out(said: list[Reading], odd: str | None) -> None:
    assert odd_one_out(MODEL, said) == odd


def test_one_reading_alone_is_never_odd() -> None:
    assert odd_one_out(MODEL, [CountReading("count", 37, 37)]) is None
    assert odd_one_out(MODEL, []) is None


def test_what_was_denied_is_doubted_as_denied() -> None:
    """Twelve of something at 23.4 mm: that it has no notches fits well, that it has no splines does not."""
    no_notches = ChoiceReading("fitting", "notches", denied=True)
    no_splines = ChoiceReading("fitting", "splines", denied=True)

    assert rarity(MODEL, [SPINS, no_notches, TWELVE, mm(23.4)], "fitting") == 1
    assert rarity(MODEL, [SPINS, no_splines, TWELVE, mm(23.4)], "fitting") < SUSPICIOUS
    assert odd_one_out(MODEL, [SPINS, no_notches, TWELVE, mm(23.4)]) is None
    assert odd_one_out(MODEL, [SPINS, no_splines, TWELVE, mm(23.4)]) == "fitting"


@pytest.mark.parametrize(
    "reading", [UnsureReading("count"), BoundReading("size", low=23.25), ChoiceReading("fitting", "bayonet")]
)
def test_what_names_no_answer_is_not_rare(reading: Reading) -> None:
    assert rarity(MODEL, [STAYS, reading], reading.question) == 1


def test_a_range_of_counts_is_as_common_as_the_likelier_of_its_ends() -> None:
    said: list[Reading] = [STAYS, SPLINES, CountReading("count", 11, 12)]

    assert rarity(MODEL, said, "count") == pytest.approx(rarity(MODEL, [STAYS, SPLINES, TWELVE], "count"))


@given(cases(), questions())
def test_rarity_is_a_probability(said: list[Reading], question: str) -> None:
    assert 0 <= rarity(MODEL, said, question) <= 1 + 1e-9


@given(cases(), st.randoms(use_true_random=False))
def test_only_something_that_was_said_is_odd(said: list[Reading], chance: object) -> None:
    odd = odd_one_out(MODEL, said)

    assert odd is None or rarity(MODEL, said, odd) < SUSPICIOUS
    assert odd is None or odd in {r.question for r in said if not isinstance(r, UnsureReading)}
