"""Every phrase of the tables is taken for what its row says, wholly: no reading more and none less."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conversation.understanding.reading_rows import parts_of, rows_of
from triagebot.conversation.understanding import Setting, understand

FILES = sorted((Path(__file__).parent / "phrases").glob("*.txt"))
ROWS = [pytest.param(*row, id=f"{file.stem}-{row[0]}-{row[1][:40]}") for file in FILES for row in rows_of(file)]


@pytest.mark.parametrize(("opened", "text", "expected"), ROWS)
def test_a_phrase_is_taken_for_what_its_row_says(
    opened: str | None, text: str, expected: frozenset[str], setting: Callable[..., Setting]
) -> None:
    assert parts_of(understand(text, setting(opened))) == expected
