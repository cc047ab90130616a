"""A key is changed without a moment in which something cannot be decrypted."""

from errno import EACCES
from pathlib import Path

import pytest

from tests.store.engines import ON_BOTH
from tests.store.reading import current_case
from tests.store.test_migrations import EVENT, ME, with_a_case
from triagebot.errors import StoreError
from triagebot.store import open_store, whole_file
from triagebot.store.encryption import Cipher
from triagebot.store.key_rotation import renew, retire

pytestmark = ON_BOTH


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with_a_case(tmp_path / "data")
    return tmp_path / "data"


def read_back(folder: Path, key_file: Path) -> None:
    with open_store(folder, key_file=key_file) as store, store.read() as view:
        case = current_case(view, ME)
        assert case is not None
        assert case.events == (EVENT,)


def test_a_new_key_and_then_the_old_one_taken_away(folder: Path, key_file: Path) -> None:
    (old,) = key_file.read_text().split()
    assert renew(folder, key_file) == 2  # the event and the key of the marks
    first, second = key_file.read_text().split()
    assert second == old
    read_back(folder, key_file)
    assert retire(folder, key_file) == 1
    assert key_file.read_text().split() == [first]
    assert key_file.stat().st_mode & 0o777 == 0o600
    read_back(folder, key_file)
    assert [path.name for path in key_file.parent.iterdir()] == [key_file.name]


def test_what_the_old_key_encrypted_meanwhile_is_encrypted_anew_before_it_goes(folder: Path, key_file: Path) -> None:
    with open_store(folder, key_file=key_file) as talking:
        with talking.read() as view:
            assert current_case(view, ME) is not None  # as it does when it begins
        renew(folder, key_file)
        with talking.begin() as tx:
            standing = tx.current_version(tx.lookup_hash(ME))
            assert standing is not None
            tx.append(*standing, [EVENT])
    retire(folder, key_file)
    with open_store(folder, key_file=key_file) as store, store.read() as view:
        case = current_case(view, ME)
        assert case is not None
        assert case.events == (EVENT, EVENT)


def test_a_process_from_before_that_meets_a_case_for_the_first_time_has_to_be_begun_again(
    folder: Path, key_file: Path
) -> None:
    with open_store(folder, key_file=key_file) as talking:
        renew(folder, key_file)
        with talking.begin() as tx:
            standing = tx.current_version(tx.lookup_hash(ME))
            assert standing is not None
            with pytest.raises(StoreError, match="begin it again"):
                tx.append(*standing, [EVENT])


def test_without_an_old_key_nothing_is_taken_away(folder: Path, key_file: Path) -> None:
    before = key_file.read_bytes()
    with pytest.raises(StoreError, match="triagebot key renew"):
        retire(folder, key_file)
    assert key_file.read_bytes() == before


def test_a_key_that_does_not_open_the_folder_is_left_as_it_is(folder: Path, key_file: Path) -> None:
    key_file.rename(key_file.with_name("kept"))
    with_a_case(folder.parent / "another")
    before = key_file.read_bytes()
    for step in (renew, retire):
        with pytest.raises(StoreError):
            step(folder, key_file)
    assert key_file.read_bytes() == before


def test_a_new_key_is_on_the_disk_before_anything_is_encrypted_with_it(
    folder: Path, key_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    happened: list[str] = []
    kept, encrypted = whole_file.keep_name, Cipher.reencrypt
    monkeypatch.setattr(whole_file, "keep_name", lambda file: kept(file) or happened.append(f"kept {file.name}"))
    monkeypatch.setattr(Cipher, "reencrypt", lambda *given: happened.append("encrypted") or encrypted(*given))
    assert renew(folder, key_file) == 2
    assert happened == [f"kept {key_file.name}", "encrypted", "encrypted"]


def test_files_beside_the_database_are_encrypted_anew_by_their_owners(folder: Path, key_file: Path) -> None:
    file = folder / "a file of somebody's"
    with open_store(folder, key_file=key_file) as store:
        file.write_text(store.cipher.encrypt("a login"))

    def reencrypt(where: Path, cipher: Cipher) -> int:
        assert where == folder
        file.write_text(cipher.reencrypt(file.read_text()))
        return 1

    assert renew(folder, key_file, [reencrypt]) == 3
    assert retire(folder, key_file, [reencrypt]) == 1
    with open_store(folder, key_file=key_file) as store:
        assert store.cipher.decrypt(file.read_text()) == "a login"


def test_a_disk_that_refuses_a_file_is_told_of_and_the_old_key_stays(folder: Path, key_file: Path) -> None:
    def refused(where: Path, cipher: Cipher) -> int:
        raise PermissionError(EACCES, "no right to it")

    (old,) = key_file.read_text().split()
    for step in (renew, retire):
        with pytest.raises(StoreError, match="cannot be written by this user"):
            step(folder, key_file, [refused])
        assert old in key_file.read_text().split()
    read_back(folder, key_file)
