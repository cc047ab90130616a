"""What went out is noted at once, and found again after a crash; what the crash cut short is passed over."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.ciphers import throw_away_cipher
from triagebot.delivery import writer
from triagebot.delivery.writer import JOURNAL, ReceiptJournal, reencrypt_receipts
from triagebot.store.encryption import Cipher
from triagebot.store.key_file import new_key

CIPHER = throw_away_cipher()


@pytest.fixture
def noted(tmp_path: Path) -> Iterator[ReceiptJournal]:
    noted = ReceiptJournal(tmp_path, CIPHER)
    yield noted
    noted.close()


def left_behind(folder: Path) -> dict[int, dict[str, object]]:
    again = ReceiptJournal(folder, CIPHER)
    try:
        return again.left_behind()
    finally:
        again.close()


def test_what_was_noted_is_found_by_the_next(noted: ReceiptJournal, tmp_path: Path) -> None:
    noted.note(7, {"message": "its id"})
    noted.note(8, {})
    assert left_behind(tmp_path) == {7: {"message": "its id"}, 8: {}}
    assert b"its id" not in (tmp_path / JOURNAL).read_bytes()
    assert (tmp_path / JOURNAL).stat().st_mode & 0o777 == 0o600


def test_what_was_cut_short_is_passed_over(noted: ReceiptJournal, tmp_path: Path) -> None:
    noted.note(7, {})
    noted.note(8, {})
    path = tmp_path / JOURNAL
    path.write_bytes(path.read_bytes()[:-10])
    assert left_behind(tmp_path) == {7: {}}


def test_the_file_is_emptied_when_all_of_it_is_done(
    noted: ReceiptJournal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "_LARGE", 300)
    for number in range(4):
        noted.note(number, {})
    for _ in range(3):
        noted.done()
    assert len(left_behind(tmp_path)) == 4
    noted.done()
    assert left_behind(tmp_path) == {}
    noted.note(9, {})
    assert left_behind(tmp_path) == {9: {}}


def test_what_a_crash_left_is_read_after_the_key_was_changed(noted: ReceiptJournal, tmp_path: Path) -> None:
    old, new = new_key().encode(), new_key().encode()
    before = ReceiptJournal(tmp_path, Cipher((old,), b""))
    before.note(7, {"message": "its id"})
    before.note(8, {})
    before.close()
    path = tmp_path / JOURNAL
    path.write_bytes(path.read_bytes()[:-10])
    assert reencrypt_receipts(tmp_path, Cipher((new, old), b"")) == 1
    after = ReceiptJournal(tmp_path, Cipher((new,), b""))
    assert after.left_behind() == {7: {"message": "its id"}}
    after.close()
    assert path.stat().st_mode & 0o777 == 0o600


def test_where_nothing_was_left_there_is_nothing_to_encrypt_anew(tmp_path: Path) -> None:
    assert reencrypt_receipts(tmp_path, CIPHER) == 0
    assert list(tmp_path.iterdir()) == []
