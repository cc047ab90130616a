"""A backup is taken while others write, is whole or not there, tells nothing to who has no key, and names its key."""

import os
import random
import sqlite3
import stat
import time
from contextlib import suppress
from itertools import count
from pathlib import Path

import pytest

from tests.commands import PATIENCE, Forked
from tests.effort import effort
from tests.keeping.place import CODE, ME, NOW, SAID, Place, say_more
from triagebot.errors import StoreError
from triagebot.keeping import restore_backup, take_backup
from triagebot.keeping.backup import STAGE
from triagebot.keeping.backup_file import fingerprint, read_header
from triagebot.store import DATABASE
from triagebot.store.key_rotation import renew, retire


def _write_on(place: Place) -> None:
    with place.open() as store:
        while True:
            say_more(store, 1)
            time.sleep(0.002)  # who waits for the lock looks only now and then: leave it free for a moment


def _back_up_on(place: Place, begun: Path) -> None:
    for n in count():
        with suppress(StoreError):  # another may be at work there at that moment
            take_backup(place.data, place.key, place.file.with_name(f"{n}.backup"), NOW)
            begun.touch()


def wait_for(path: Path) -> None:
    end = time.monotonic() + PATIENCE
    while not path.exists():
        assert time.monotonic() < end, f"{path} never came"
        time.sleep(0.005)


def refused(place: Place, words: str) -> None:
    """Says these words, and leaves neither a backup nor anything else."""
    before = place.file.read_bytes() if place.file.exists() else None
    with pytest.raises(StoreError, match=words):
        place.back_up()
    assert (place.file.read_bytes() if place.file.exists() else None) == before
    assert not list(place.file.parent.rglob(".*"))


def test_it_is_taken_while_others_write_and_holds_one_moment(place: Place) -> None:
    writing = Forked(_write_on, place)
    try:
        at_least = 0
        for n in range(3):
            end = time.monotonic() + PATIENCE
            while place.events() <= at_least:
                assert time.monotonic() < end
            at_least = place.events()
            place.back_up(force=True)
            there = place.elsewhere(str(n))
            there.restore()
            assert there.events() >= at_least
    finally:
        writing.kill()
        writing.wait()
    assert writing.poll() == -9, "nobody wrote any more"


def test_what_is_there_already_is_not_replaced_unless_told(place: Place) -> None:
    place.file.write_text("mine")
    refused(place, "is there already")
    assert place.file.read_text() == "mine"
    place.back_up(force=True)
    assert place.restore(only_check=True).cases == 1


def test_only_its_owner_reads_it(place: Place) -> None:
    old = os.umask(0)
    try:
        place.back_up()
    finally:
        os.umask(old)
    assert stat.S_IMODE(place.file.stat().st_mode) == 0o600
    assert [path.name for path in place.data.iterdir() if path.name.startswith(".")] == []


def test_nothing_of_it_can_be_read_without_the_key(place: Place) -> None:
    place.back_up()
    content = place.file.read_bytes()
    with place.open() as store:
        who = store.cipher.lookup_hash("person", ME)
    for word in (CODE, SAID, who, "a login", "SQLite format", DATABASE, place.key.read_text().strip()):
        assert word.encode() not in content


def test_it_names_the_key_that_opens_it_also_when_that_was_retired(place: Place) -> None:
    taken = place.back_up()
    old = place.key.read_bytes()
    with place.file.open("rb") as source:
        _, header = read_header(source, place.file)
    assert header.key == taken.key == fingerprint(old.strip())
    renew(place.data, place.key)
    assert place.elsewhere().restore(only_check=True).cases == 1  # both keys are there
    retire(place.data, place.key)
    there = place.elsewhere()
    with pytest.raises(StoreError, match=f"needs the key {taken.key}") as caught:
        there.restore()
    assert fingerprint(place.key.read_bytes().strip()) in str(caught.value)
    assert not there.data.exists()
    place.key.write_bytes(old)
    there.restore()
    assert there.events() == 5


def test_of_a_damaged_database_there_is_none(place: Place) -> None:
    with (place.data / DATABASE).open("r+b") as file:
        file.seek(4096 * 3)
        file.write(b"\xa5" * 4096 * 3)
    refused(place, "the database is damaged")


def test_with_another_key_there_is_none(place: Place) -> None:
    other = place.key.with_name("other")
    other.write_bytes(b"m" * 43 + b"=\n")
    other.chmod(0o600)
    with pytest.raises(StoreError, match="another key"):
        take_backup(place.data, other, place.file, NOW)
    assert not place.file.exists()


def test_where_nothing_is_kept_and_where_it_may_not_lie(place: Place) -> None:
    refused(place.elsewhere(), "holds no database")
    with pytest.raises(StoreError, match="which it is a copy of"):
        take_backup(place.data, place.key, place.data / "matrix" / "a.backup", NOW)
    with pytest.raises(StoreError, match="could not be written"):
        take_backup(place.data, place.key, place.file.parent / "nowhere" / "a.backup", NOW)
    assert not (place.data / STAGE).exists()


def test_a_folder_of_backups_keeps_the_newest(place: Place, tmp_path: Path) -> None:
    many = tmp_path / "many"
    many.mkdir()
    (many / "triagebot-notes.txt").write_text("mine")
    for day in (1, 2, 3):
        taken = take_backup(place.data, place.key, many, NOW.replace(day=day), keep=2)
    names = ["triagebot-20260302T120000Z.backup", "triagebot-20260303T120000Z.backup", "triagebot-notes.txt"]
    assert sorted(path.name for path in many.iterdir()) == names
    assert [path.name for path in taken.dropped] == ["triagebot-20260301T120000Z.backup"]


def test_two_at_once_do_not_mix(big: Place, tmp_path: Path) -> None:
    begun = tmp_path / "begun"
    other = Forked(_back_up_on, big, begun)
    try:
        wait_for(begun)
        end, met = time.monotonic() + PATIENCE, False
        while not met and time.monotonic() < end:
            try:
                big.back_up(force=True)
            except StoreError as error:
                met = "is at work there" in str(error)
        assert met
    finally:
        other.kill()
        other.wait()
    big.back_up(force=True)
    assert big.restore(only_check=True).cases == 1


@pytest.mark.parametrize(
    ("kills", "seed"), [(effort(3, 30), 1), *(pytest.param(200, seed, marks=pytest.mark.campaign) for seed in (2, 3))]
)
def test_kill_9_leaves_no_backup_or_a_whole_one(big: Place, tmp_path: Path, kills: int, seed: int) -> None:
    draw = random.Random(seed)
    for n in range(kills):
        folder = tmp_path / f"round-{n}"
        folder.mkdir()
        begun = folder / "begun"
        process = Forked(_back_up_on, Place(big.data, big.key, folder / "x"), begun)
        wait_for(begun)
        time.sleep(draw.uniform(0, 0.2))
        process.kill()
        assert process.wait() == -9
        backups = list(folder.glob("*.backup"))
        assert backups
        for file in backups[-2:]:
            assert restore_backup(file, tmp_path / "there", big.key, only_check=True).cases == 1
        take_backup(big.data, big.key, folder / "last", NOW)
        assert [path.name for path in folder.iterdir() if path.name.startswith(".")] == []
        assert not (big.data / STAGE).exists()
        for each in folder.iterdir():
            each.unlink()
    assert sqlite3.connect(big.data / DATABASE).execute("PRAGMA quick_check").fetchall() == [("ok",)]
