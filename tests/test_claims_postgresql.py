"""Every sentence of the page about PostgreSQL that says what triagebot does, with the test that proves it."""

import builtins
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.claims import ROOT, assert_exists, assert_nothing_is_left
from triagebot.delivery.leases import LOOK
from triagebot.errors import StoreError
from triagebot.store import errors, open_store
from triagebot.store.leases import LASTS

PAGE = "deploy/postgresql.md"
LEASES, SEVERAL = "tests/delivery/test_leases.py", "tests/channels/telegram/test_several.py"
PAGE_TESTS = "tests/test_claims_postgresql.py"
MOVING, THERE = "tests/store/test_moving.py", "tests/store/test_postgresql.py"

ELSEWHERE = {
    "Cases are kept in a file of the data folder (SQLite), which needs nothing installed.": (
        "tests/store/test_data_folder.py::test_the_folder_is_made_for_this_user_alone",
    ),
    "They can be kept in a PostgreSQL database instead, from version 15 on.": (
        f"{THERE}::test_what_was_written_is_there_when_opened_again",
    ),
    "In containers, [compose.postgresql.yaml](compose.postgresql.yaml) has two processes and the database; it says "
    "which secrets it wants.": (
        "tests/test_deploy.py::"
        "test_the_composition_with_postgresql_has_two_processes_that_share_a_database_and_nothing_else",
    ),
    "It holds a lease of eight seconds in the database and renews it every two.": (
        f"{LEASES}::test_a_lease_is_held_by_one_until_it_runs_out",
        f"{PAGE_TESTS}::test_how_long_a_lease_lasts",
    ),
    "One of them at a time fetches the messages of a Telegram bot and sends there; the others wait.": (
        f"{SEVERAL}::test_another_process_takes_the_bot_over",
    ),
    "When it dies or hangs, another process takes over within 15 seconds, and at once when it is stopped in the usual "
    "way.": (f"{SEVERAL}::test_another_process_takes_the_bot_over",),
    "A process that was stopped and goes on later is refused by the database: it takes in nothing and marks nothing as "
    "sent.": (f"{LEASES}::test_who_held_it_before_is_refused",),
    "What was being sent at that moment is sent once more.": (
        f"{SEVERAL}::test_nothing_is_lost_and_nothing_happens_twice",
    ),
    "A conversation is worked on by one process at a time, and stays in order.": (
        "tests/store/test_beside.py::test_one_conversation_is_written_by_one_at_a_time",
        f"{SEVERAL}::test_nothing_is_lost_and_nothing_happens_twice",
    ),
    "A webhook may go to any of them.": (f"{LEASES}::test_what_is_brought_may_come_to_any_process",),
    "It says how far it is, table by table, and compares every row in the end.": (
        f"{MOVING}::test_every_row_goes_there_and_back",
        f"{MOVING}::test_a_row_that_is_not_the_same_is_noticed",
    ),
    "What is encrypted stays as it is, and the key file is not needed for the move.": (
        f"{MOVING}::test_what_is_encrypted_stays_as_it_is",
        f"{MOVING}::test_every_row_goes_there_and_back",
    ),
    "Conversations go on where they stood, and no case number is given out twice.": (
        f"{MOVING}::test_the_command_moves_a_conversation_there_and_back",
        f"{MOVING}::test_no_number_is_given_out_again",
    ),
    "It refuses a database that holds anything, and one that another triagebot has open.": (
        f"{MOVING}::test_nothing_is_moved_over_anything",
        f"{MOVING}::test_not_while_another_program_has_it_open",
    ),
    "If it is cut off, your cases are where they were.": (f"{MOVING}::test_kill_9_on_the_way_there",),
    "The database says that it holds half, nobody can use it, and running the same command once more begins anew.": (
        f"{MOVING}::test_kill_9_on_the_way_there",
    ),
    "In the end the old file has another name, `triagebot.sqlite3.moved-` with the date, and triagebot does not start "
    "without `TRIAGEBOT_DATABASE`.": (f"{MOVING}::test_nobody_goes_on_with_what_was_left",),
    "Backups leave that file out.": (f"{MOVING}::test_a_backup_leaves_out_what_was_left",),
    "`triagebot backup` is of the file, and says so where the cases are in PostgreSQL.": (
        f"{THERE}::test_the_commands_use_it",
    ),
    "`triagebot doctor` says whether the database answers, and how large it is.": (
        f"{THERE}::test_the_doctor_looks_there",
    ),
    "Every row is compared on this way, too.": (f"{MOVING}::test_every_row_goes_there_and_back",),
    "If triagebot is started with PostgreSQL again, it says that all was moved elsewhere.": (
        f"{MOVING}::test_nobody_goes_on_with_what_was_left",
    ),
}

ADVICE = {
    "For the person who runs it.",
    "Your databases are in PostgreSQL anyway, and somebody looks after them and their backups.",
    "The disk of the machine that runs triagebot may be lost with it, and the database server's may not.",
    "One process is no faster with it.",
    "If none of these is so, stay with the file.",
    "Matrix is not in it.",
    "The tests read that file, and nobody has run it yet.",
    "You want several processes, so that another one goes on when one dies.",
    "Run `triagebot serve` as often as you like, on one machine or on several, with the same settings and the same key "
    "file.",
    "Each needs a data folder and a port of its own.",
    "Let a service manager start each of them again when it ends.",
    "The pages can be served by all of them, behind one address.",
    "What the staff write on Telegram reaches a page that another process serves up to 25 seconds later.",
    "Set up Matrix in one of the processes only: the keys of its login lie in that process's data folder, and do not "
    "move to another one.",
    "How much one person may send is counted by each process for itself.",
    "You need a database that is empty, with the encoding UTF8, and its owner's password in `~/.pgpass`:",
    'Install the driver: `.venv/bin/pip install "psycopg[binary]>=3.2,<4"`.',
    "Take a backup: `triagebot backup FILE`.",
    "Stop triagebot, wherever it runs.",
    "Run `triagebot move-store sqlite postgresql://triagebot@db.example.org/triagebot`.",
    "Set `TRIAGEBOT_DATABASE` to that address, and start triagebot.",
    "Keep the data folder: the Matrix login and the lock of `serve` stay there.",
    "Delete it when you are content with PostgreSQL: people who ask to be forgotten from then on are still in it.",
    "Have `pg_dump` run each night, and copy the data folder and the key file beside it.",
    "A dump holds people who were forgotten since, until you delete it.",
    "Stop triagebot.",
    "Run `triagebot move-store postgresql://triagebot@db.example.org/triagebot sqlite`.",
    "Take `TRIAGEBOT_DATABASE` away, and start triagebot.",
    "Drop that database when you are content.",
    "To move there once more you need an empty one.",
}


def test_how_long_a_lease_lasts() -> None:
    assert (LASTS.total_seconds(), LOOK) == (8, 2)


def test_every_sentence_is_proved_or_is_advice() -> None:
    assert_nothing_is_left(PAGE, ELSEWHERE, ADVICE)


@pytest.mark.parametrize("proof", sorted({proof for proofs in ELSEWHERE.values() for proof in proofs}))
def test_a_proof_that_is_named_exists(proof: str) -> None:
    assert_exists(proof)


def test_what_it_says_is_in_the_table_of_what_to_do() -> None:
    """The first words of each fault that the table names."""
    rows = [line.split("|")[1].strip() for line in (ROOT / PAGE).read_text("utf-8").splitlines() if line[:2] == "| "]
    faults = (errors.IN_USE, errors.NOT_EMPTY, errors.OLDER, errors.NOT_THE_SAME, errors.NO_DRIVER)
    assert rows[0] == "it says"
    for row, fault in zip(rows[1:], faults, strict=True):
        assert row.removesuffix(" …") in fault


def test_without_its_driver_it_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = builtins.__import__

    def without(name: str, *more: Any, **options: Any) -> Any:
        if name.partition(".")[0] == "psycopg":
            raise ModuleNotFoundError(name)
        return found(name, *more, **options)

    for name in [name for name in sys.modules if name.partition(".")[0] == "psycopg"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(StoreError, match="needs a driver that is not installed"):
        open_store(tmp_path / "d", key_file=tmp_path / "key", database="postgresql://127.0.0.1:1/cases")
