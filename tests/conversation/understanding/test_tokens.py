"""What one number is, in digits, words and fractions."""

import pytest

from triagebot.conversation.understanding import Words
from triagebot.conversation.understanding.normalise import plain
from triagebot.conversation.understanding.number_words import tokenise


def numbers(text: str, words: Words) -> list[float]:
    return [token.number.value for token in tokenise(plain(text), words) if token.number is not None]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("12", [12]),
        ("23,4 and 23.4", [23.4, 23.4]),
        ("1,000", [1.0]),
        ("-4", [-4]),
        ("10-12", [10, 12]),
        ("10 -12", [10, 12]),
        ("splines-12", [12]),
        ("minus four", [-4]),
        ("1e3", [1000]),
        ("1e999", [1e12]),
        ("9" * 500, [1e12]),
        ("7/8", [0.875]),
        ("1 7/8", [1.875]),
        ("1-1/4", [1.25]),
        ("twenty-three point four", [23.4]),
        ("one hundred and two", [102]),
        ("ten twelve", [10, 12]),
        ("a dozen", [12]),
        ("half a dozen", [6]),
        ("three quarters of an inch", [0.75]),
        ("one and a half", [1.5]),
        ("an inch and a quarter", [1.25]),
        ("seven eighths inch", [0.875]),
        ("15 16ths inch", [0.9375]),
        ("half an inch", [0.5]),
        ("a quarter", []),
        ("the second", []),
        ("2nd", []),
        ("+44 20 7946 0958", []),
        ("12/05/2024", []),
        ("10:30", []),
        ("1.2.3", []),
        ("11-13-15-17", []),
        ("m8 bolt", []),
        ("12splines", [12]),
    ],
)
def test_numbers(text: str, values: list[float], words: Words) -> None:
    assert numbers(text, words) == pytest.approx(values)
