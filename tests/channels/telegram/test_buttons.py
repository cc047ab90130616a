"""What a button carries comes back the same, fits, and nothing else is taken for one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.channels.telegram.limits import MOST_BUTTON
from triagebot.channels.telegram.reading import Button, digests, pack, unpack

CODES = st.from_regex(r"[2-9A-Z]{3}-[2-9A-Z]{3}", fullmatch=True)
WORDS = st.from_regex(r"[a-z0-9]{1,12}(-[a-z0-9]{1,10}){0,3}", fullmatch=True).filter(lambda word: len(word) <= 48)
PEOPLE = st.integers(1, 2**52)
THREADS = st.integers(0, 10**7)


@given(CODES, st.integers(0, 10_000), WORDS, st.one_of(st.just((0, 0)), st.tuples(PEOPLE, THREADS)))
def test_an_answer_comes_back_whatever_its_length(code: str, turn: int, word: str, where: tuple[int, int]) -> None:
    button = Button(word, code, turn, *where)
    data = pack(button)
    assert len(data.encode()) <= MOST_BUTTON
    assert unpack(data, digests(["unsure", word, "splines"])) == button


@given(st.text(max_size=64))
def test_anything_else_is_no_button_or_a_whole_one(data: str) -> None:
    button = unpack(data, {})
    assert button is None or data.startswith(f"q:{button.case}:")


@pytest.mark.parametrize("data", ["", "q", "q:AAA-AAA", "q:AAA-AAA:x:splines", "q:A:1:b:c", "x:1", "l:de:!:0", "yes"])
def test_what_we_did_not_write_is_no_button(data: str) -> None:
    assert unpack(data, {}) is None
