"""A store that an older program made is brought up to date when it is opened, and everybody goes on where they were.

The stores in `older/` are the work of the programs of their day, and not of today's migrations run in part: what those
programs truly wrote, encrypted or left out is what there is to read.
"""

import gzip
import logging
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import yaml

from tests.conversation.guides import shipped_guide
from tests.store.opened import bytes_in, opened
from triagebot.cases.loaded import Memory
from triagebot.conversation import Message, plain
from triagebot.counter import invite
from triagebot.delivery import WaitingClient
from triagebot.identify import CountReading
from triagebot.keeping import restore_backup, take_backup
from triagebot.store import DATABASE, open_store
from triagebot.store.migrations import NEWEST, REVISIONS
from triagebot.store.retention import unkeyed
from triagebot.store.summaries import Summaries

OLDER = Path(__file__).with_name("older")
STORES = yaml.safe_load((OLDER / "stores.yaml").read_text("utf-8"))
NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)
#: How many notches and splines were told of.
COUNTED = {"p1": 4, "p2": 12}


@dataclass(frozen=True)
class Older:
    revision: str
    data: Path
    key: Path
    codes: dict[str, str]


@pytest.fixture(params=STORES)
def older(request: pytest.FixtureRequest, tmp_path: Path) -> Older:
    revision = str(request.param)
    place = Older(revision, tmp_path / "data", tmp_path / "key", STORES[revision]["codes"])
    place.data.mkdir(mode=0o700)
    (place.data / DATABASE).write_bytes(gzip.decompress((OLDER / f"{revision}.sqlite3.gz").read_bytes()))
    (place.data / DATABASE).chmod(0o600)
    place.key.write_text(STORES[revision]["key"])
    place.key.chmod(0o600)
    return place


def test_there_are_five_of_five_revisions() -> None:
    assert len(STORES) == 5
    assert set(STORES) < set(REVISIONS)
    assert {file.name for file in OLDER.glob("*.gz")} == {f"{revision}.sqlite3.gz" for revision in STORES}


def test_everybody_goes_on_where_they_were(older: Older, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, "triagebot")
    with open_store(older.data, key_file=older.key) as store:
        assert f"from revision {older.revision} to {NEWEST}" in caplog.text
        client = WaitingClient(shipped_guide(), store)
        for person, code in older.codes.items():
            with store.begin() as tx:
                held = Memory().current(tx, tx.lookup_hash(f"lines:{person}"))
            assert held is not None
            assert held.case.code == code
            counts = [reading for reading in held.case.now.readings if isinstance(reading, CountReading)]
            assert [reading.low for reading in counts] == [COUNTED[each] for each in (person,) if each in COUNTED]
            heard = client.hear(f"lines:{person}", Message("my code"), "en")
            assert code in plain(heard.reply)
        again = client.hear("lines:p2", Message("23 mm"), "en")
        assert again.case is not None
        assert again.case.code == older.codes["p2"]


def test_who_waits_for_a_person_is_in_the_queue_of_a_shop_that_has_terminals_alone(older: Older) -> None:
    with open_store(older.data, key_file=older.key) as store:
        with store.begin() as tx:
            waiting = tx.case_by_code(older.codes["p3"])
            assert waiting is not None
            code = invite(tx, "staff", "Ada", waiting.opened_at)
        client = WaitingClient(shipped_guide(), store, clock=lambda: waiting.opened_at + timedelta(days=1), bench=True)
        client.arrive("terminal:ada", "en")
        client.hear("terminal:ada", Message(code), "en")
        assert older.codes["p3"] in plain(client.hear("terminal:ada", Message("queue"), "en").reply)


def test_everything_takes_the_keys_of_its_person_and_is_counted(older: Older, tmp_path: Path) -> None:
    with open_store(older.data, key_file=older.key) as store:
        for job in unkeyed(store):
            with store.begin() as tx:
                job(tx)
        with store.read() as view:
            assert len(Summaries(view).out_of_date()) == len(older.codes)
    take_backup(older.data, older.key, tmp_path / "one.backup", NOW)
    there = tmp_path / "there"
    restore_backup(tmp_path / "one.backup", there, older.key)
    with open_store(there, key_file=older.key) as store:
        assert b"splines" in opened(bytes_in(there), store.cipher)
        client = WaitingClient(shipped_guide(), store)
        for words in ("forget me", "yes"):
            client.hear("lines:p2", Message(words), "en")
        assert b"12 splines" not in opened(bytes_in(there), store.cipher)
