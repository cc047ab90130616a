"""Opening a data folder: made with narrow rights, brought up to date once, and left alone when it cannot be used."""

import fcntl
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from tests.commands import PATIENCE
from tests.store.conftest import Begins, Runs, together, wait_for_line
from tests.store.other_process import NOW, PERSON, event
from tests.store.reading import cases_of, current_case
from triagebot.errors import StoreError
from triagebot.store import DATABASE, Store, open_store
from triagebot.store.migrations import NEWEST


def as_it_is(place: Path) -> dict[str, tuple[int, bytes | None]]:
    """Everything below a place, with rights and content."""
    return {
        str(path.relative_to(place)): (path.stat().st_mode, path.read_bytes() if path.is_file() else None)
        for path in sorted(place.rglob("*"))
    }


def with_a_case(folder: Path) -> None:
    with open_store(folder) as store, store.begin() as tx:
        tx.append(tx.open_case(PERSON, "ABCD", "t", NOW), 0, [event(n, "x" * 500) for n in range(50)])


def use(folder: Path) -> None:
    with open_store(folder) as store, store.begin() as tx:
        cases_of(tx, PERSON)
        tx.open_case(PERSON, "EFGH", "t", NOW)


def refused(folder: Path, words: str, patience: float = 10.0) -> None:
    """Opening (or the first use) says these words and the place, and changes nothing."""
    before = as_it_is(folder.parent)
    with pytest.raises(StoreError, match=words) as caught, open_store(folder, patience) as store, store.begin() as tx:
        current_case(tx, PERSON)
    assert str(folder) in str(caught.value)
    assert as_it_is(folder.parent) == before


def test_the_folder_is_made_for_this_user_alone(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b c %d" / "data"
    old = os.umask(0)
    try:
        with open_store(folder) as store, store.begin() as tx:
            tx.open_case(PERSON, "ABCD", "t", NOW)
            rights = {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()}
    finally:
        os.umask(old)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert rights == {DATABASE: 0o600, f"{DATABASE}-wal": 0o600, f"{DATABASE}-shm": 0o600}
    assert [path.name for path in folder.iterdir()] == [DATABASE]


def test_a_folder_that_stands_keeps_its_rights_and_its_files(folder: Path) -> None:
    folder.mkdir(mode=0o750)
    (folder / "notes.txt").write_text("mine")
    with_a_case(folder)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o750
    assert (folder / "notes.txt").read_text() == "mine"


def test_what_was_written_is_there_when_opened_again(folder: Path) -> None:
    with_a_case(folder)
    for _ in range(2):
        with open_store(folder) as store, store.read() as view:
            case = current_case(view, PERSON)
        assert case is not None
        assert len(case.events) == 50


def test_a_crash_between_the_file_and_its_first_table_is_mended(folder: Path) -> None:
    folder.mkdir()
    (folder / DATABASE).touch(mode=0o600)
    with_a_case(folder)


def test_closing_twice_is_fine(store: Store) -> None:
    store.close()
    store.close()


def test_a_file_in_place_of_the_folder(folder: Path) -> None:
    folder.write_text("in the way")
    refused(folder, "is not a folder.*TRIAGEBOT_DATA_FOLDER")
    refused(folder / "below", "is not a folder.*TRIAGEBOT_DATA_FOLDER")


def test_a_folder_in_place_of_the_database(folder: Path) -> None:
    (folder / DATABASE).mkdir(parents=True)
    refused(folder, "is not a database")


@pytest.mark.parametrize("content", [b"shopping list\n" * 40, b"\0" * 4096, b"S"])
def test_a_file_that_is_no_database(folder: Path, content: bytes) -> None:
    folder.mkdir()
    (folder / DATABASE).write_bytes(content)
    refused(folder, "is not a database.*move the file away")


def test_the_database_of_another_program(folder: Path) -> None:
    folder.mkdir()
    with sqlite3.connect(folder / DATABASE) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    other.close()
    refused(folder, "some other program")


@pytest.mark.parametrize("state", ["closed", "left by a crash"])
def test_a_database_of_a_newer_version(folder: Path, tmp_path: Path, state: str) -> None:
    with_a_case(folder)
    newer = sqlite3.connect(folder / DATABASE)
    with newer:
        newer.execute("UPDATE alembic_version SET version_num = '9999'")
    if state == "left by a crash":
        # The log with the last commits still lies beside the database.
        shutil.copytree(folder, tmp_path / "crashed")
        folder = tmp_path / "crashed"
        newer.close()
        with pytest.raises(StoreError, match=rf"newer triagebot; upgrade.*another data folder.*9999.*{NEWEST}"):
            open_store(folder)
        with sqlite3.connect(folder / DATABASE) as kept:
            assert kept.execute("SELECT version_num FROM alembic_version").fetchall() == [("9999",)]
            assert kept.execute("SELECT count(*) FROM events").fetchall() == [(50,)]
        kept.close()
        return
    newer.close()
    refused(folder, rf"newer triagebot; upgrade.*another data folder.*9999.*{NEWEST}")


@pytest.mark.parametrize(("start", "length"), [(100, 3000), (16, 80), (4096, 8192)])
def test_a_damaged_database_is_named_and_kept(folder: Path, start: int, length: int) -> None:
    with_a_case(folder)
    with (folder / DATABASE).open("r+b") as file:
        file.seek(start)
        file.write(b"\xa5" * length)
    before = (folder / DATABASE).read_bytes()
    with pytest.raises(StoreError, match=r"damaged|not a database") as caught:
        use(folder)
    assert str(folder) in str(caught.value)
    assert (folder / DATABASE).read_bytes() == before


def test_a_database_cut_short(folder: Path) -> None:
    with_a_case(folder)
    os.truncate(folder / DATABASE, 5000)
    with (
        pytest.raises(StoreError, match="damaged"),
        open_store(folder) as store,
        store.read() as view,
    ):
        current_case(view, PERSON)
    assert (folder / DATABASE).stat().st_size == 5000


@pytest.mark.parametrize("what", ["folder", "parent", "database", "unreadable database", "unreadable folder"])
def test_rights_that_are_missing(run_process: Runs, what: str) -> None:
    # Not below the tests' own folder, which an ordinary user may not even enter.
    with tempfile.TemporaryDirectory() as place:
        parent = Path(place)
        folder = parent / "data"
        if what != "parent":
            with_a_case(folder)
            folder.chmod(0o755)
            (folder / DATABASE).chmod(0o644)
        parent.chmod(0o555)
        if what == "folder":
            folder.chmod(0o555)
        elif what == "database":
            folder.chmod(0o777)
            (folder / DATABASE).chmod(0o444)
        elif what == "unreadable database":
            folder.chmod(0o777)
            (folder / DATABASE).chmod(0)
        elif what == "unreadable folder":
            folder.chmod(0)
        before = as_it_is(parent) if os.geteuid() == 0 else None
        (said,) = run_process("opening", folder)
        if before is not None:
            assert as_it_is(parent) == before
        parent.chmod(0o755)
        if folder.exists():
            folder.chmod(0o755)
    assert said["error"] is not None
    assert str(folder) in said["error"]
    assert "cannot be written by this user" in said["error"]
    assert "TRIAGEBOT_DATA_FOLDER" in said["error"]


def test_a_read_only_file_system(run_process: Runs, folder: Path) -> None:
    with_a_case(folder)
    mounted = ["unshare", "--mount", "sh", "-c", 'mount --bind "$0" "$0" && mount -o remount,bind,ro "$0" && exec "$@"']
    if subprocess.run([*mounted, str(folder), "true"], capture_output=True, check=False).returncode:
        pytest.skip("this user may not mount")
    before = as_it_is(folder)
    (said,) = run_process("opening", folder, wrapped_in=[*mounted, str(folder)])
    assert "cannot be written" in said["error"]
    assert as_it_is(folder) == before


def test_locked_for_longer_than_our_patience(begin_process: Begins, folder: Path) -> None:
    with_a_case(folder)
    other = begin_process("locking", folder)
    assert wait_for_line(other)
    with open_store(folder, patience=0.2) as store:
        with store.read() as view:
            assert current_case(view, PERSON) is not None
        locked = pytest.raises(StoreError, match=f"{DATABASE}: is being written by another program.*try again")
        with locked, store.begin():
            pytest.fail("two writers at once")
        other.communicate(timeout=PATIENCE)
        with store.begin() as tx:
            assert current_case(tx, PERSON) is not None


def test_a_folder_that_somebody_is_opening_for_ever(folder: Path) -> None:

    folder.mkdir()
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        refused(folder, "is being written by another program", patience=0.1)
    finally:
        os.close(handle)


def test_heavy_libraries_are_loaded_only_when_needed(run_process: Runs, folder: Path) -> None:
    assert run_process("loaded", folder) == [{"imported": [], "opened": ["sqlalchemy", "alembic"]}]
    assert run_process("loaded", folder) == [{"imported": [], "opened": ["sqlalchemy"]}]


def test_many_processes_starting_at_once(begin_process: Begins, folder: Path) -> None:
    for n in range(2):
        place = folder / str(n)
        begun = together([begin_process("starting", place) for _ in range(4)])
        with open_store(place) as store, store.read() as view:
            assert len(cases_of(view, PERSON)) == len(begun)


def test_to_open_it_twice_takes_no_lock_away(tmp_path: Path) -> None:
    """Else another process could empty the log that is being read here, and what is read would be damaged."""
    ask = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], 0.0); "
        "c.execute('PRAGMA locking_mode=EXCLUSIVE'); c.execute('BEGIN EXCLUSIVE'); print('alone')"
    )
    with open_store(tmp_path / "data", key_file=tmp_path / "key") as store, store.read() as view:
        view.code_of(1)
        open_store(tmp_path / "data", key_file=tmp_path / "key").close()
        command = [sys.executable, "-c", ask, str(store.folder / DATABASE)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert "alone" not in done.stdout
        assert "locked" in done.stderr
    assert "alone" in subprocess.run(command, capture_output=True, text=True, check=False).stdout
