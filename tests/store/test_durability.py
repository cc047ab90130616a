"""What was confirmed is there afterwards: after kill -9, among several writers, on a full disk."""

import itertools
import json
import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.effort import effort
from tests.store.conftest import Begins, Runs, together
from tests.store.engines import ON_BOTH, ON_SQLITE
from tests.store.other_process import NOW, PERSON, event
from tests.store.reading import current_case
from triagebot.errors import StoreError
from triagebot.store import Store, open_store

pytestmark = ON_BOTH

KILLS = effort(20, 40)


def test_kill_9_loses_no_confirmed_commit(run_process: Runs, folder: Path) -> None:
    rounds = run_process("kills", folder, KILLS, 20260301)
    assert len(rounds) == KILLS
    for each in rounds:
        assert each["whole"]
        # The one that was being confirmed when the process died may be there or not.
        assert each["held"] - each["confirmed"] in (0, 1)
    assert sum(each["confirmed"] for each in rounds) > KILLS


@ON_SQLITE
def test_kill_9_while_the_database_is_made(run_process: Runs, folder: Path) -> None:
    rounds = run_process("kills_while_opening", folder, KILLS, 20260301)
    assert [each["case"] for each in rounds] == [1] * KILLS
    assert len({tuple(each["left"]) for each in rounds}) > 1, "always killed at the same place"


def test_three_processes_on_one_case(begin_process: Begins, folder: Path) -> None:
    times = effort(50, 150)
    with open_store(folder) as store, store.begin() as tx:
        tx.open_case(PERSON, "ABCD", "t", NOW)
    together([begin_process("appending", folder, who, times) for who in "abc"])
    with open_store(folder) as store, store.read() as view:
        case = current_case(view, PERSON)
    assert case is not None
    for who in "abc":
        assert [e["n"] for e in case.events if e["who"] == who] == list(range(times))
    assert len(case.events) == 3 * times
    turns = [e["who"] for e in case.events]
    assert sum(a != b for a, b in itertools.pairwise(turns)) > 10, "they never ran side by side"


def test_threads_share_one_store(store: Store) -> None:
    with store.begin() as tx:
        tx.open_case(PERSON, "ABCD", "t", NOW)

    def take_turns(who: str) -> None:
        for n in range(50):
            with store.begin() as tx:
                case = current_case(tx, PERSON)
                assert case is not None
                tx.append(case.id, len(case.events), [event(n, who)])

    with ThreadPoolExecutor(4) as threads:
        list(threads.map(take_turns, "abcd"))
    with store.read() as view:
        case = current_case(view, PERSON)
    assert case is not None
    assert len(case.events) == 200
    for who in "abcd":
        assert [e["n"] for e in case.events if e["who"] == who] == list(range(50))


@ON_SQLITE
def test_a_database_that_becomes_read_only_says_so(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(PERSON, "ABCD", "t", NOW)
        tx.connection.exec_driver_sql("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="cannot be written by this user"), store.begin() as tx:
        tx.append(number, 0, [event(0)])


@ON_SQLITE
def test_a_full_database_says_so_and_keeps_what_it_had(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(PERSON, "ABCD", "t", NOW)
        tx.append(number, 0, [event(0)])
        pages = tx.connection.exec_driver_sql("PRAGMA page_count").scalar()
        tx.connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(StoreError, match="disk is full; free some space"), store.begin() as tx:
        tx.append(number, 1, [event(1, "x" * 50_000)])
    with store.begin() as tx:
        tx.connection.exec_driver_sql("PRAGMA max_page_count = 1000000")
        case = current_case(tx, PERSON)
        assert case is not None
        assert case.events == (event(0),)
        tx.append(number, 1, [event(1, "x" * 50_000)])


@ON_SQLITE
@pytest.mark.parametrize("limit", [1, 8_000, 40_000, 120_000, 400_000])
def test_a_limit_on_the_size_of_files(run_process: Runs, folder: Path, limit: int) -> None:
    refused, _ = run_process("filling", folder, limit)
    assert str(folder) in refused["error"]
    assert "disk refused" in refused["error"] or "disk is full" in refused["error"]
    if not refused["confirmed"]:
        return
    with open_store(folder) as store, store.read() as view:
        case = current_case(view, PERSON)
    assert case is not None
    assert [e["n"] for e in case.events] == list(range(refused["confirmed"]))


@ON_SQLITE
@pytest.mark.parametrize("size", ["4k", "16k", "48k", "100k", "400k"])
def test_a_full_disk(begin_process: Begins, tmp_path: Path, size: str) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = ["unshare", "--mount", "sh", "-c", f'mount -t tmpfs -o size={size} tmpfs "$0" && exec "$@"', str(disk)]
    if subprocess.run([*mounted, "true"], capture_output=True, check=False).returncode:
        pytest.skip("this user may not mount")
    process = begin_process("filling", disk / "data", 0, wrapped_in=mounted)
    printed, complaints = process.communicate(timeout=60)
    assert process.returncode == 0, complaints
    refused, after = (json.loads(line) for line in printed.splitlines())
    assert "disk is full; free some space" in refused["error"]
    if "held" in after:
        assert after["held"] == refused["confirmed"]
    else:
        # No room for what even a reader needs: said in words, too.
        assert "disk is full" in after["error"]
