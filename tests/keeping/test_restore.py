"""What a backup holds comes back, whole or not at all, and never over anything."""

import random
import sqlite3
import stat
import time
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from tests.commands import Forked
from tests.effort import effort
from tests.keeping.place import CODE, ME, NOW, Place, as_before_keys
from tests.keeping.test_backup import wait_for
from triagebot.delivery.writer import ReceiptJournal
from triagebot.errors import StoreError
from triagebot.keeping import restore_backup
from triagebot.store import DATABASE
from triagebot.store.errors import RESTORING
from triagebot.store.post import Post
from triagebot.store.tables import outbox


def _restore_on(place: Place, begun: Path) -> None:
    for n in count():
        restore_backup(place.file, place.elsewhere(str(n)).data, place.key)
        begun.touch()


def messages(place: Place) -> list[tuple[str, str]]:
    with place.open() as store, store.read() as view:
        rows: list[Any] = list(view.connection.execute(select(outbox.c.state, outbox.c.reason).order_by(outbox.c.id)))
    return [(row.state, row.reason) for row in rows]


def refused(place: Place, words: str) -> None:
    with pytest.raises(StoreError, match=words):
        place.restore()
    assert not place.data.exists()


def test_everything_comes_back_for_its_owner_alone(place: Place) -> None:
    place.back_up()
    there = place.elsewhere("a/b")
    done = there.restore()
    assert (done.cases, done.set_aside, done.older) == (1, 1, None)
    assert there.events() == 5
    assert (there.data / "matrix" / "session").read_text() == "a login"
    with sqlite3.connect(there.data / "matrix" / "store.db") as other:
        assert other.execute("SELECT name FROM names").fetchall() == [("ours",)]
    other.close()
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in (there.data, *there.data.rglob("*"))}
    assert {mode for name, mode in modes.items() if name in ("b", "matrix")} == {0o700}
    assert {modes[name] for name in (DATABASE, "session", "store.db")} == {0o600}
    assert not [name for name in modes if name.startswith(".")]


def test_nothing_is_restored_over_anything(place: Place) -> None:
    place.back_up()
    before = {path: path.read_bytes() for path in place.data.rglob("*") if path.is_file()}
    with pytest.raises(StoreError, match=r"holds something.*stop the bot and move the folder away"):
        place.restore()
    assert {path: path.read_bytes() for path in place.data.rglob("*") if path.is_file()} == before
    assert place.restore(only_check=True).cases == 1
    assert {path: path.read_bytes() for path in place.data.rglob("*") if path.is_file()} == before


def test_into_an_empty_folder_that_is_there(place: Place) -> None:
    place.back_up()
    there = place.elsewhere()
    (there.data / "lost+found").mkdir(parents=True)
    there.restore()
    assert there.events() == 5


def test_what_was_still_to_be_sent_is_set_aside_and_numbers_go_on_further(place: Place) -> None:
    place.back_up()
    there = place.elsewhere()
    there.restore()
    assert messages(there) == [("sent", ""), ("failed", "restored")]
    with there.open() as store, store.begin() as tx:
        assert tx.open_case("terminal:you", "EFGH", "rear-sprockets", NOW) > 1_000_000
        assert (Post(tx).receive("paper", "k", "c", NOW, "done", None) or 0) > 1_000_000


def test_a_receipt_that_is_only_in_the_journal_counts(place: Place) -> None:
    with place.open() as store:
        with store.begin() as tx:
            Post(tx).claim(tx.lookup_hash(ME), NOW)
        journal = ReceiptJournal(place.data, store.cipher)
        journal.note(2, {"id": 2})
        journal.close()
        assert messages(place) == [("sent", ""), ("sending", "")]
    place.back_up()
    there = place.elsewhere()
    assert there.restore().set_aside == 0
    assert messages(there) == [("sent", ""), ("sent", "")]


def test_a_backup_of_a_newer_version_is_refused(place: Place) -> None:
    with sqlite3.connect(place.data / DATABASE) as newer:
        newer.execute("UPDATE alembic_version SET version_num = '9999'")
    newer.close()
    place.back_up()
    refused(place.elsewhere(), "newer triagebot; upgrade triagebot first.*9999")


def test_an_older_one_is_brought_up_to_date(place: Place) -> None:
    as_before_keys(place)
    with sqlite3.connect(place.data / DATABASE) as older:
        for table in ("requests", "bikes"):
            older.execute(f"DROP TABLE {table}")
        older.execute("ALTER TABLE loans DROP COLUMN kept")
        older.execute("UPDATE alembic_version SET version_num = '0006'")
    older.close()
    place.back_up()
    there = place.elsewhere()
    assert there.restore().older == "0006"
    assert there.events() == 5


def test_without_the_key_it_says_which_one_is_needed(place: Place) -> None:
    taken = place.back_up()
    place.key.rename(place.key.with_name("kept"))
    refused(place.elsewhere(), f"needs the one that holds the key {taken.key}")
    assert not place.key.exists(), "it made a new one"


@pytest.mark.parametrize("content", [b"", b"shopping list\n", b"triagebot backup one\n", b"triagebot backup 1\n{}\n"])
def test_a_file_that_is_no_backup(place: Place, content: bytes) -> None:
    place.file.write_bytes(content)
    refused(place.elsewhere(), "is no backup|is damaged")


def test_a_file_that_is_missing_and_one_of_a_form_to_come(place: Place) -> None:
    refused(place.elsewhere(), "could not be used")
    place.back_up()
    place.file.write_bytes(place.file.read_bytes().replace(b"backup 1\n", b"backup 2\n", 1))
    refused(place.elsewhere(), "newer triagebot")


def test_one_byte_changed_or_missing_anywhere_is_noticed(big: Place) -> None:
    big.back_up()
    whole = big.file.read_bytes()
    draw = random.Random(1)
    there = big.elsewhere()
    head = whole.index(b"\n", whole.index(b"\n") + 1)
    places = [*range(0, head, 29), *(draw.randrange(head, len(whole)) for _ in range(effort(6, 100))), len(whole) - 1]
    for at in places:
        big.file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        refused(there, "damaged|cut short|no backup|newer|needs the key")
        big.file.write_bytes(whole[:at])
        refused(there, "cut short|damaged|no backup")
    big.file.write_bytes(whole + b"x")
    refused(there, "damaged")
    pieces = whole[head + 1 :]
    first = 4 + (int.from_bytes(pieces[:4], "big") & 0x7FFFFFFF)
    second = first + 4 + (int.from_bytes(pieces[first : first + 4], "big") & 0x7FFFFFFF)
    big.file.write_bytes(whole[: head + 1] + pieces[first:second] + pieces[:first] + pieces[second:])
    refused(there, "damaged")


def test_until_it_is_whole_nobody_opens_the_folder_and_once_more_begins_anew(place: Place) -> None:
    place.back_up()
    there = place.elsewhere()
    there.restore()
    (there.data / RESTORING).mkdir()
    (there.data / DATABASE).rename(there.data / RESTORING / DATABASE)  # as a kill leaves it before the last move
    with pytest.raises(StoreError, match="run triagebot restore once more"):
        there.open()
    there.restore()
    assert there.events() == 5
    with there.open() as store, store.read() as view:
        assert view.case_by_code(CODE) is not None


@pytest.mark.parametrize(
    ("kills", "seed"), [(effort(4, 30), 1), *(pytest.param(200, seed, marks=pytest.mark.campaign) for seed in (2, 3))]
)
def test_kill_9_leaves_nothing_half(big: Place, tmp_path: Path, kills: int, seed: int) -> None:
    big.back_up()
    draw, again = random.Random(seed), 0
    for n in range(kills):
        folder = tmp_path / f"round-{n}"
        folder.mkdir()
        file = folder / "one.backup"
        file.hardlink_to(big.file)
        process = Forked(_restore_on, Place(big.data, big.key, file), folder / "begun")
        wait_for(folder / "begun")
        time.sleep(draw.uniform(0, 0.25))
        process.kill()
        assert process.wait() == -9
        last = max((path for path in folder.iterdir() if path.name.isdigit()), key=lambda path: int(path.name))
        there = Place(last, big.key, file)
        if not (last / DATABASE).exists():
            if (last / RESTORING).exists():
                with pytest.raises(StoreError, match="run triagebot restore once more"):
                    there.open()
            there.restore()
            again += 1
        assert there.events() == 5
        assert (last / "matrix" / "session").read_text() == "a login"
    assert again or kills < 20, "always killed when it was done"
