"""kill -9 at random moments, with twenty people talking: every message counts once and in order, nothing is missing.

An ordinary run kills it a fifth as often as a long one, and has a fifth as much said."""

import json
import os
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.killed_delivery import PEOPLE, script
from tests.effort import effort
from tests.store.engines import ON_BOTH
from tests.words import words_of
from triagebot.cases.loaded import Memory
from triagebot.conversation import Case, Message
from triagebot.conversation.events import to_json
from triagebot.delivery import WaitingClient
from triagebot.store import open_store
from triagebot.testing import START

pytestmark = ON_BOTH

KILLS, SEED = effort(12, 60), 20260301
ROOT = Path(__file__).parents[2]


def plainly(case: Case) -> list[dict[str, object]]:
    return [{k: v for k, v in to_json(event).items() if k != "code"} for event in case.events]


@pytest.mark.slow
def test_kill_9_at_any_moment(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder, key_file = tmp_path / "data", tmp_path / "key"
    done = subprocess.run(
        [sys.executable, str(ROOT / "tests/delivery/killed_delivery.py"), str(folder), str(KILLS), str(SEED)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    rounds = [json.loads(line) for line in done.stdout.splitlines()]
    killed = sum(each["killed"] for each in rounds)
    assert rounds[-1] == {"killed": False, "status": 0}
    assert killed >= KILLS * 0.6, "there was too little to do"

    said = script(SEED)
    with open_store(tmp_path / "quiet", key_file=key_file) as store:
        quiet, replies = WaitingClient(shipped_guide(), store, lambda: START), defaultdict(list)
        last: dict[str, Case] = {}
        for person, text in said:
            heard = quiet.hear(f"paper:{person}", Message(text), "en")
            replies[person].append(words_of(heard.reply).replace(heard.case.code, ""))
            last[person] = heard.case

    sent: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for line in (tmp_path / "paper").read_text().splitlines():
        row = json.loads(line)
        sent[row["to"]].append((row["id"], row["text"]))
    repeats = 0
    with open_store(folder, key_file=key_file) as store, store.begin() as tx:
        for person in (f"p{n}" for n in range(PEOPLE)):
            held = Memory().current(tx, tx.lookup_hash(f"paper:{person}"))
            assert held is not None
            assert plainly(held.case) == plainly(last[person])
            numbers = [number for number, _ in sent[person]]
            assert numbers == sorted(numbers)
            assert list(dict(sent[person]).values()) == replies[person]
            repeats += len(numbers) - len(set(numbers))
    with capsys.disabled():
        print(f"\n{killed} kills, {len(said)} messages: {repeats} sent once more ({repeats / killed:.2f} a kill)")
    assert repeats <= killed
