"""Spellings that do not differ, and those that do."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.shop import fold


@pytest.mark.parametrize(
    ("typed", "folded"),
    [
        ("Tarvolden", "tarvolden"),
        ("  TAR-VOLDEN!! ", "tar volden"),
        ("Brünnhalter", "brunnhalter"),
        ("Bru\u0308nnhalter", "brunnhalter"),  # the accent as a sign of its own
        ("Straße", "strasse"),
        ("Ø-ring, łódź, Đuro, œuvre", "o ring lodz duro oeuvre"),
        ("it's / it’s", "its its"),
        ("No.5 ½", "no 5 1 2"),
        ("ﬁxed", "fixed"),
        ("ＡＢＣ", "abc"),
        ("İstanbul", "istanbul"),
        ("Ελλάς", "ελλασ"),
        ("हिन्दी", "हिनदी"),  # vowel signs are part of the letters, the virama is not told from an accent
        ("a\u200bb\u00adc", "abc"),
        ("", ""),
        ("🚲 -- !", ""),
    ],
)
def test_fold(typed: str, folded: str) -> None:
    assert fold(typed) == folded


@given(st.text(max_size=40))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@given(st.text(max_size=40))
def test_case_and_spare_spaces_do_not_count(text: str) -> None:
    assert fold(f"  {text}\t") == fold(text)
    assert fold(text.casefold()) == fold(text)


@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyz0123456789 ", max_size=40))
def test_plain_words_stay_as_they_are(text: str) -> None:
    assert fold(text) == " ".join(text.split())
