"""What is personal cannot be read without the key; the key lies elsewhere, and what is wrong with it is said."""

import os
import re
import sqlite3
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from sqlalchemy import create_engine

from tests.store.ciphers import throw_away_cipher
from tests.store.reading import current_case
from triagebot.errors import StoreError
from triagebot.settings import load_settings
from triagebot.store import DATABASE, Store, migrations, open_store
from triagebot.store.encryption import DecryptionError, json_text
from triagebot.store.key_file import default_key_file, new_key
from triagebot.store.key_rotation import ENCRYPTED, reencrypt_database
from triagebot.store.migrations import NEWEST
from triagebot.store.tables import metadata
from triagebot.store.transactions import person_hash

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
ME = "terminal:Wilhelmina Ü"
WORDS = "the notched ring of Aunt Änne"
#: How the words above may stand in a file. Each trace holds a sign that encrypted text (letters, digits, - and _)
#: cannot hold, or is too long to come about by chance.
TRACES = (b"Wilhelmina", "Ü".encode(), b"notched ring", b" of Aunt ", "Änne".encode())


def event(text: str = WORDS) -> dict[str, str]:
    return {"kind": "said", "at": NOW.isoformat(), "text": text}


def with_a_case(folder: Path) -> None:
    with open_store(folder) as store, store.begin() as tx:
        tx.append(tx.open_case(ME, "ABCD", "t", NOW), 0, [event()])


def read_back(folder: Path) -> None:
    with open_store(folder) as store, store.read() as view:
        case = current_case(view, ME)
    assert case is not None
    assert case.events == (event(),)


def raw(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.iterdir()))


def refused(folder: Path, words: str) -> None:
    """Opening says these words, and changes nothing in the data folder."""
    before = raw(folder)
    with pytest.raises(StoreError, match=words):
        open_store(folder)
    assert raw(folder) == before


def test_what_is_personal_cannot_be_read_in_the_file(folder: Path) -> None:
    with open_store(folder) as store, store.begin() as tx:
        tx.append(tx.open_case(ME, "ABCD", "t", NOW), 0, [event() for _ in range(200)])
    with open_store(folder) as store, store.read() as view:
        assert current_case(view, ME) is not None
        for trace in TRACES:  # while the log still lies there, too
            assert trace not in raw(folder)
    for trace in TRACES:
        assert trace not in raw(folder)


@pytest.fixture
def plain(folder: Path) -> Path:
    """A database from before anything was encrypted, with more rows than are encrypted at a time."""
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder / DATABASE}")
    with engine.begin() as connection:
        migrations.upgrade(connection, "0001")
        for n in range(700):
            person = json_text(ME if n == 0 else f"lines:p{n}")[1:-1]
            row = (n + 1, person, f"C{n}", "t", "2026-03-01 12:00:00.000000")
            connection.exec_driver_sql("INSERT INTO cases VALUES (?, ?, ?, ?, ?)", row)
            bodies = [(n + 1, seq, json_text(event())) for seq in range(2)]
            connection.exec_driver_sql("INSERT INTO events VALUES (?, ?, ?)", bodies)
    engine.dispose()
    assert b"Aunt" in raw(folder)
    return folder


def test_a_database_from_before_is_encrypted_whole(plain: Path) -> None:
    with open_store(plain) as store:
        for trace in (*TRACES, b"lines:p"):
            assert trace not in raw(plain)
        with store.read() as view:
            for person in (ME, "lines:p699"):
                case = current_case(view, person)
                assert case is not None
                assert case.events == (event(), event())
            assert view.connection.exec_driver_sql("SELECT count(*) FROM events").scalar() == 1400
    for trace in TRACES:
        assert trace not in raw(plain)


def test_a_database_from_before_stays_as_it_is_when_it_cannot_be_encrypted_whole(plain: Path) -> None:
    def held() -> list[list[tuple[object, ...]]]:
        with sqlite3.connect(plain / DATABASE) as db:
            tables = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            rows = [db.execute(f"SELECT * FROM {table}").fetchall() for table in tables]
        db.close()
        return rows

    with sqlite3.connect(plain / DATABASE) as db:
        db.execute("UPDATE cases SET person = '\\' WHERE id = 699")  # no text that we ever wrote
    db.close()
    before = held()
    with pytest.raises(StoreError, match=r"cannot be encrypted.*keep a copy"):
        open_store(plain)
    assert held() == before


def test_the_key_is_made_at_the_first_use_and_is_its_owners_alone(folder: Path, key_file: Path) -> None:
    assert not key_file.exists()
    old = os.umask(0)
    try:
        with_a_case(folder)
    finally:
        os.umask(old)
    assert stat.S_IMODE(key_file.stat().st_mode) == 0o600
    assert stat.S_IMODE(key_file.parent.stat().st_mode) == 0o700
    assert [path.name for path in key_file.parent.iterdir()] == [key_file.name]
    before = key_file.read_bytes()
    read_back(folder)
    with_a_case(folder.parent / "another")
    assert key_file.read_bytes() == before


def test_the_settings_and_the_store_mean_the_same_file() -> None:
    assert load_settings({}).key_file == default_key_file()


def test_a_key_file_of_ones_own(folder: Path, tmp_path: Path, key_file: Path) -> None:
    own = tmp_path / "elsewhere" / "the key"
    open_store(folder, key_file=own).close()
    assert own.exists()
    assert not key_file.exists()
    refused(folder, "the key file is missing")


def test_a_key_that_is_lost(folder: Path, key_file: Path) -> None:
    with_a_case(folder)
    kept = key_file.rename(key_file.with_name("kept"))
    refused(folder, f"{key_file}: the key file is missing.*{folder}.*put it back.*TRIAGEBOT_KEY_FILE.*set another data")
    assert not key_file.exists(), "a new key in place of the old one would make things worse"
    kept.rename(key_file)
    read_back(folder)


def test_a_key_that_belongs_to_another_database(folder: Path, key_file: Path) -> None:
    with_a_case(folder)
    key_file.write_text(new_key())
    refused(folder, f"encrypted with another key than those in {key_file}.*right key file")


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o620, 0o602, 0o644])
def test_a_key_that_others_can_read_or_change(folder: Path, key_file: Path, mode: int) -> None:
    with_a_case(folder)
    key_file.chmod(mode)
    refused(folder, f"can be read by others.*chmod 600 {key_file}")


@pytest.mark.parametrize("content", ["", "# nothing\n\n", "a word\n", f"{'x' * 44}\n", "\0\xff"])
def test_a_file_without_keys(folder: Path, key_file: Path, content: str) -> None:
    with_a_case(folder)
    key_file.write_text(content, encoding="latin-1")
    refused(folder, f"{key_file}: holds no keys")


def test_a_key_in_the_data_folder(folder: Path) -> None:
    for key_file in (folder / "key", folder / "below" / "key"):
        with pytest.raises(StoreError, match=r"must not lie in the data folder.*TRIAGEBOT_KEY_FILE"):
            open_store(folder, key_file=key_file)
    assert not folder.exists()


def test_a_key_that_cannot_be_made(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreError, match=r"the key file cannot be (made|read) \(.*TRIAGEBOT_KEY_FILE"):
        open_store(folder, key_file=tmp_path / "file" / "key")
    assert not folder.exists()


def test_keys_are_changed_without_losing_anything(folder: Path, key_file: Path) -> None:
    with_a_case(folder)
    old = key_file.read_text()
    key_file.write_text(f"# since March\n{new_key()}\n{old}")
    read_back(folder)
    with open_store(folder) as store:
        with store.begin() as tx:
            case = current_case(tx, ME)
            assert case is not None
            tx.append(case.id, 1, [event("with the new key") for _ in range(600)])
        assert reencrypt_database(store) == 2  # the key of the case, and that of the lookup hashes
    key_file.write_text(key_file.read_text().replace(old, ""))
    with open_store(folder) as store, store.read() as view:
        case = current_case(view, ME)
    assert case is not None
    assert case.events[:2] == (event(), event("with the new key"))
    key_file.write_text(old)
    refused(folder, "encrypted with another key")


def test_every_encrypted_column_is_encrypted_anew() -> None:
    names = {"body", "address", "receipt", "place"}
    columns = {(table.name, column.name) for table in metadata.tables.values() for column in table.c}
    assert {(table.name, name) for table, name in ENCRYPTED} == {pair for pair in columns if pair[1] in names}


def test_an_encrypted_text_that_was_changed(store: Store) -> None:
    encrypted = store.cipher.encrypt("a text")
    assert store.cipher.decrypt(encrypted) == "a text"
    for other in (encrypted[:-1], encrypted.swapcase(), "", "a text", "ä", throw_away_cipher().encrypt("a text")):
        with pytest.raises(DecryptionError):
            store.cipher.decrypt(other)
        with pytest.raises(DecryptionError):
            store.cipher.reencrypt(other)


def test_lookup_hashes_stay_when_the_store_is_opened_again(folder: Path, tmp_path: Path) -> None:
    hashes = []
    for place in (folder, folder, tmp_path / "another"):
        with open_store(place) as store:
            hashes.append(person_hash(store.cipher, ME))
    assert hashes[0] == hashes[1] != hashes[2]


CIPHER = throw_away_cipher()


#: What joins and escapes the parts, and little else, so that parts are often alike once they are joined.
PARTS = st.lists(st.text("\0\\0a", max_size=4) | st.text(), min_size=1, max_size=3)


@given(first=PARTS, second=PARTS)
@example(first=["a\0b"], second=["a", "b"])
@example(first=["a\\0b"], second=["a\0b"])
@example(first=["a\\", "b"], second=["a\\\0b"])
@example(first=["a\\", "b"], second=["a\0b"])
def test_different_things_have_different_lookup_hashes(first: list[str], second: list[str]) -> None:
    assert (CIPHER.lookup_hash("a", *first) == CIPHER.lookup_hash("a", *second)) == (first == second)
    assert CIPHER.lookup_hash("a", *first) != CIPHER.lookup_hash("b", *first)


def test_the_newest_database_is_encrypted(folder: Path) -> None:
    with_a_case(folder)
    with sqlite3.connect(folder / DATABASE) as db:
        assert db.execute("SELECT version_num FROM alembic_version").fetchall() == [(NEWEST,)]
        (body,) = db.execute("SELECT body FROM events").fetchone()
    db.close()
    assert re.match("[0-9a-f]{16}:gAAAA", body)
