"""What it really was, and whether the remover fitted, as somebody says it in passing."""

import pytest

from tests.conversation.guides import shipped_guide
from triagebot.counter.closing import Outcome, outcome_said
from triagebot.counter.words import staff_words

GUIDE = shipped_guide()
TEXTS = GUIDE.language("en").texts


def said(text: str) -> Outcome:
    return outcome_said(GUIDE, TEXTS, staff_words("en"), text)


@pytest.mark.parametrize(
    ("text", "fastening", "fitted"),
    [
        ("fitted", None, True),
        ("it fitted", None, True),
        ("did not fit", None, False),
        ("didn’t fit", None, False),
        ("not tried", None, None),
        ("4n 24 fitted", "freewheel-4-notch-24", True),
        ("4 notch 24, did not fit", "freewheel-4-notch-24", False),
        ("fitted, 4n 24", "freewheel-4-notch-24", True),
        ("freewheel-4-notch-24 fitted", "freewheel-4-notch-24", True),
        ("freewheel, 4 notches, 24 mm; fitted", "freewheel-4-notch-24", True),
        ("the small four fitted", "freewheel-4-notch-24", True),
        ("remover-20-spline", "freewheel-20-spline", None),
        ("20 spl did not fit", "freewheel-20-spline", False),
        ("something else did not fit", "unlisted", False),
        ("not listed", "unlisted", None),
    ],
)
def test_what_is_said(text: str, fastening: str | None, fitted: bool | None) -> None:
    assert said(text) == Outcome(fastening, fitted, said=True)


def test_nothing_is_said() -> None:
    assert said("") == Outcome()
    assert said("  ") == Outcome()


@pytest.mark.parametrize("text", ["12 spl fitted", "crab claw fitted", "4n did not fit"])
def test_what_leaves_two_open_is_never_guessed(text: str) -> None:
    found = said(text)
    assert found.fastening is None
    assert len(found.could_be) > 1


@pytest.mark.parametrize("text", ["the blue one fitted", "asdf", "who knows fitted"])
def test_what_says_nothing_is_given_back(text: str) -> None:
    found = said(text)
    assert found.fastening is None
    assert found.unknown
    assert "fitted" not in found.unknown
