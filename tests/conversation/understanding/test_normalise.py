"""Folding of what is typed, and the way back to it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.conversation.understanding.normalise import READ_AT_MOST, folded, plain


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Twelve SPLINES", "twelve splines"),
        ("doesn\u2019t", "doesnt"),
        ("\uff11\uff12", "12"),
        ("\u0661\u0662", "12"),
        ("\u0967\u0968", "12"),
        ("1\u00bd", "1 1/2"),
        ("\u215e", "7/8"),
        ("23\u202f mm", "23 mm"),
        ("sp\u200bli\u00adnes", "splines"),
        ("\u202e12\u202c", "12"),
        ("caf\u00e9", "cafe"),
        ("23 \u2013 24", "23 - 24"),
        ("<b>12</b>", "12"),
        ("see https://example.org/12?a=40", "see"),
        ("me@example.org 12", "12"),
        ("a\x00b\tc", "a b c"),
        ("\U0001d7d9\U0001d7da", "12"),
    ],
)
def test_what_is_typed_is_folded(typed: str, meant: str) -> None:
    assert folded(typed) == meant


def test_own_words_are_the_persons_own_characters() -> None:
    text = "It\u2019s \uff11\uff12 Spl\u00efnes!"
    shown = plain(text)
    start = shown.text.index("12")
    assert shown.own_words(start, start + len("12 splines")) == "\uff11\uff12 Spl\u00efnes"


def test_only_the_beginning_of_a_long_message_is_read() -> None:
    shown = plain("x" * (READ_AT_MOST + 1))
    assert shown.cut
    assert len(shown.text) == READ_AT_MOST
    assert not plain("x" * READ_AT_MOST).cut


@given(st.text(max_size=300))
def test_every_folded_character_has_an_origin(text: str) -> None:
    shown = plain(text)
    assert len(shown.text) == len(shown.origin)
    assert all(0 <= place < len(text) for place in shown.origin)
    assert list(shown.origin) == sorted(shown.origin)
