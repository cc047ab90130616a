"""Case codes: drawn, and read back from whatever somebody wrote down."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.messages.codes import ALPHABET, LENGTH, new_code, read_code

CODES = st.lists(st.sampled_from(ALPHABET), min_size=LENGTH, max_size=LENGTH).map("".join)
BETWEEN = st.sampled_from(["", " ", "-", " - ", "–", "\u00a0", "_", "."])


@given(code=CODES, gaps=st.lists(BETWEEN, min_size=LENGTH + 1, max_size=LENGTH + 1), small=st.booleans())
def test_a_code_is_read_however_it_is_spaced(code: str, gaps: list[str], small: bool) -> None:
    written = "".join(gap + letter for gap, letter in zip(gaps, [*code, ""], strict=True))
    assert read_code(written.lower() if small else written) == f"{code[:3]}-{code[3:]}"


def test_what_is_drawn_is_read_as_it_is() -> None:
    drawn = [new_code() for _ in range(300)]
    assert [read_code(code) for code in drawn] == drawn
    assert set(Counter("".join(drawn)).keys()) == {*ALPHABET, "-"}


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("K7M-4QX", "K7M-4QX"),
        ("k7m 4ox", "K7M-4QX"),
        ("k7m40x", "K7M-4QX"),
        ("kIm 4lx", "KJM-4JX"),
        ("K1M-4UX", "K7M-4VX"),
        ("“K7M-4QX”", "K7M-4QX"),
        ("#k7m4qx.", "K7M-4QX"),
        ("Ｋ７Ｍ－４ＱＸ", "K7M-4QX"),
        ("K7M−4QX", "K7M-4QX"),
    ],
)
def test_letters_that_no_code_has_are_taken_for_those_they_look_like(written: str, code: str) -> None:
    assert read_code(written) == code


@pytest.mark.parametrize(
    "written", ["", "K7M-4Q", "K7M-4QXX", "K7M-4Q!", "K7M/4QX", "Ä7M-4QX", "🚲🚲🚲🚲🚲🚲", "six letters", "x" * 100_000]
)
def test_what_is_no_code_is_none(written: str) -> None:
    assert read_code(written) is None
