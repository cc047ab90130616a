"""What went out is noted at once, and found again after a crash; what the crash cut short is passed over."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.ciphers import throw_away_cipher
from triagebot.delivery import receipts
from triagebot.delivery.receipts import SLIPS, Slips

CIPHER = throw_away_cipher()


@pytest.fixture
def noted(tmp_path: Path) -> Iterator[Slips]:
    noted = Slips(tmp_path, CIPHER)
    yield noted
    noted.close()


def left(folder: Path) -> dict[int, dict[str, object]]:
    again = Slips(folder, CIPHER)
    try:
        return again.left()
    finally:
        again.close()


def test_what_was_noted_is_found_by_the_next(noted: Slips, tmp_path: Path) -> None:
    noted.put(7, {"message": "its id"})
    noted.put(8, {})
    assert left(tmp_path) == {7: {"message": "its id"}, 8: {}}
    assert b"its id" not in (tmp_path / SLIPS).read_bytes()
    assert (tmp_path / SLIPS).stat().st_mode & 0o777 == 0o600


def test_what_was_cut_short_is_passed_over(noted: Slips, tmp_path: Path) -> None:
    noted.put(7, {})
    noted.put(8, {})
    path = tmp_path / SLIPS
    path.write_bytes(path.read_bytes()[:-10])
    assert left(tmp_path) == {7: {}}


def test_the_file_is_emptied_when_all_of_it_is_done(
    noted: Slips, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(receipts, "_LARGE", 300)
    for number in range(4):
        noted.put(number, {})
    for _ in range(3):
        noted.done()
    assert len(left(tmp_path)) == 4
    noted.done()
    assert left(tmp_path) == {}
    noted.put(9, {})
    assert left(tmp_path) == {9: {}}
