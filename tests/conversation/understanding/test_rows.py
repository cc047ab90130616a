"""Every phrase of the tables is taken for what its row says, wholly: no reading more and none less.

A file is one test, which names all rows that are read otherwise: two thousand tests would take longer to collect, in
each worker anew, than to run.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conversation.understanding.reading_rows import parts_of, rows_of
from triagebot.conversation.understanding import Setting, understand

FILES = sorted((Path(__file__).parent / "phrases").glob("*.txt"))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_phrases_are_taken_for_what_their_rows_say(file: Path, setting: Callable[..., Setting]) -> None:
    rows = rows_of(file)
    taken = ((opened, text, parts_of(understand(text, setting(opened))), meant) for opened, text, meant in rows)
    otherwise = [f"{opened} | {text} | {read}, not {meant}" for opened, text, read, meant in taken if read != meant]
    assert rows
    assert not otherwise, "\n".join(otherwise)
