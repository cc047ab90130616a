"""What is counted of many cases together is the same as if each were counted by itself, whatever happens to them."""

import random
import threading
from collections.abc import Iterator
from dataclasses import asdict
from datetime import timedelta
from itertools import count
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.conversation.guides import shipped_guide
from tests.study.shelf import FOUR_NOTCH, TWELVE, closed, keep, said
from triagebot.cases.loaded import rows_of, unfolded
from triagebot.cases.runs import Run, runs_of
from triagebot.cases.summaries import refresh
from triagebot.conversation import Case, Message, turn
from triagebot.conversation.events import Closed
from triagebot.serving import tidying
from triagebot.settings import Settings
from triagebot.store import Store, open_store, person_keys
from triagebot.store import totals as stored
from triagebot.store.staff import Staff
from triagebot.study import totals
from triagebot.study.review import review, summed_up
from triagebot.study.review_table import review_table
from triagebot.study.totals import Judging, counted
from triagebot.testing import START
from triagebot.topics import Learned, taught

GUIDE = shipped_guide()
TOPIC = GUIDE.topic
JUDGING = Judging(TOPIC, TOPIC)
LATER = START + timedelta(days=40)


def some() -> Iterator[Case]:
    texts = [
        FOUR_NOTCH,
        TWELVE,
        ("person",),
        ("12 splines", "stop"),
        ("I don't know", "about 23 or 24 mm"),
        (*FOUR_NOTCH, "restart", "20 splines"),
        ("12 splines", "it was 20 splines, not 12"),
    ]
    kinds = ("freewheel-4-notch-24", "freewheel-2-notch", None, "cassette-12-spline", "unlisted")
    for number in range(14):
        case = said(*texts[number % 7], code=f"AAA-{number:03}", days=number - 14)
        yield closed(case, kinds[number % 5], (True, False, None)[number % 3]) if number % 2 else case


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """Fourteen cases, three in a block."""
    for module in (stored, person_keys):
        monkeypatch.setattr(module, "BLOCK", 3)
    with open_store(tmp_path / "data", key_file=keep(tmp_path / "data", some())) as store:
        yield store


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[Run]:
    """The runs that were counted one by one."""
    found: list[Run] = []
    numbers = totals.numbers

    def noted(runs: Any, *others: Any) -> Any:
        return numbers((found.append(run) or run for run in runs), *others)  # type: ignore[func-returns-value]

    monkeypatch.setattr(totals, "numbers", noted)
    return found


def settle(store: Store) -> None:
    with store.begin() as tx:
        while refresh(tx):
            pass


def told(store: Store, now: Any = LATER, since: Any = None, judging: Judging = JUDGING) -> dict[str, Any]:
    return rounded(asdict(summed_up(counted(store, judging, now, since), judging)))


def folded(store: Store, now: Any = LATER, since: Any = None, judging: Judging = JUDGING) -> dict[str, Any]:
    """As it was done before anything was kept: every case is folded."""
    with store.read() as view:
        staff = [member.person for member in Staff(view).members()]
        cases = [unfolded(each).case for each in view.of_topic(TOPIC.id) if each.person not in staff]
    runs = [run for case in cases for run in runs_of(case.events) if since is None or run.last >= since]
    return rounded(asdict(review(runs, judging.shipped, judging.used, now)))


def rounded(value: Any) -> Any:
    """Sums of shares may differ in their last digits, by the order in which they were summed."""
    if isinstance(value, float):
        return round(value, 9)
    if isinstance(value, dict):
        return {name: rounded(each) for name, each in value.items()}
    return [rounded(each) for each in value] if isinstance(value, list | tuple) else value


def test_the_second_report_reads_no_case(store: Store, read: list[Run]) -> None:
    settle(store)
    first = told(store)
    assert first["closed"] >= 7
    assert len(read) == first["runs"]
    read.clear()
    assert told(store) == first == folded(store)
    assert read == []


class _Resting(threading.Event):
    """Notes how long somebody would wait for it, and lets nobody wait."""

    def __init__(self) -> None:
        super().__init__()
        self.rests: list[float | None] = []

    def wait(self, timeout: float | None = None) -> bool:
        self.rests.append(timeout)
        return self.is_set()


def test_serving_counts_for_the_first_report_and_rests_in_between(
    store: Store, read: list[Run], monkeypatch: pytest.MonkeyPatch
) -> None:
    settle(store)
    ticks = count()
    monkeypatch.setattr(tidying, "monotonic", lambda: float(next(ticks)))
    monkeypatch.setattr(tidying, "datetime", SimpleNamespace(now=lambda zone: LATER))
    ending = _Resting()
    tidying.count_cases(Settings(), GUIDE, store, ending)
    assert ending.rests == [1.0] * 5, "a block each"
    assert read
    read.clear()
    assert told(store) == folded(store)
    assert read == []
    ending.set()
    tidying.count_cases(Settings(), GUIDE, store, ending)
    assert len(ending.rests) == 6, "it ends where it is told to"


def test_it_tells_the_same_whatever_happens(store: Store) -> None:
    draw = random.Random(16)
    for step in range(60):
        one = happens(store, draw)
        now = LATER + timedelta(hours=7 * step)
        since = draw.choice((None, None, LATER - timedelta(days=draw.randrange(60)), now - timedelta(days=3)))
        assert told(store, now, since) == folded(store, now, since), f"step {step}: {one}"


def happens(store: Store, draw: random.Random) -> str:
    what = draw.choice(
        ("goes on", "closed", "forgotten", "staff", "no staff", "begun", "settled", "settled", "settled")
    )
    with store.begin() as tx:
        held = list(tx.of_topic(TOPIC.id))
        one = draw.choice(held)
        case = unfolded(one).case
        if what == "goes on":
            text = draw.choice(("4 notches", "restart", "12 splines", "no idea", "stop"))
            tx.append(one.id, len(case.events), rows_of(turn(GUIDE, case, Message(text), LATER).events, {}))
        elif what == "closed":
            event = Closed(LATER, draw.choice(("freewheel-2-notch", None)), draw.choice((True, False)), "Ada")
            tx.append(one.id, len(case.events), rows_of((event,), {}))
        elif what == "forgotten" and len(held) > 5:
            tx.forget_everything(one.person)
        elif what == "staff":
            Staff(tx).admit(one.person, "staff", f"Ada {one.id}", LATER)
        elif what == "no staff":
            for member in Staff(tx).members():
                Staff(tx).remove(member.person, LATER)
        elif what == "begun":
            fresh = said("20 splines", code=f"BBB-{draw.randrange(10**6)}", days=40)
            tx.append(
                tx.open_case(f"bench:{fresh.code}", fresh.code, fresh.topic, fresh.opened), 0, rows_of(fresh.events, {})
            )
    if what == "settled":
        settle(store)
    return what


def test_somebody_who_may_still_go_on_is_not_put_down(store: Store) -> None:
    settle(store)
    soon = START - timedelta(days=2) + timedelta(hours=2)
    assert told(store, soon) == folded(store, soon)
    assert told(store) == folded(store)
    assert told(store) != told(store, soon)


def test_another_edition_counts_anew(store: Store, read: list[Run]) -> None:
    settle(store)
    told(store)
    read.clear()
    other = Judging(TOPIC, taught(TOPIC, Learned(topic=TOPIC.id, cases=9, priors={"freewheel-2-notch": 0.4})))
    assert told(store, judging=other) == folded(store, judging=other)
    assert read


def test_it_goes_when_somebody_of_the_block_is_forgotten(store: Store) -> None:
    settle(store)
    told(store)
    before = blocks(store)
    with store.begin() as tx:
        tx.forget("terminal:p4")
    assert set(before) - set(blocks(store)) == {5 // 3}
    assert told(store) == folded(store)


def test_a_block_without_cases_goes(store: Store) -> None:
    settle(store)
    told(store)
    with store.begin() as tx:
        tx.connection.exec_driver_sql("DELETE FROM cases WHERE id < 7")
    assert told(store) == folded(store)
    assert blocks(store) == [2, 3, 4]


def test_nothing_is_kept_in_plain_words(store: Store) -> None:
    settle(store)
    told(store)
    with store.read() as view:
        rows = [str(dict(row)) for row in view.connection.exec_driver_sql("SELECT * FROM totals").mappings()]
    assert rows
    assert not any("splines" in row or "freewheel" in row for row in rows)


def test_a_store_that_cannot_be_written_tells_all_the_same(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    from triagebot.errors import StoreError

    settle(store)
    monkeypatch.setattr(totals, "keep", lambda *_: (_ for _ in ()).throw(StoreError("the disk is full")))
    assert told(store) == folded(store)
    assert blocks(store) == []


def test_counting_ends_when_it_is_told_to(store: Store) -> None:
    settle(store)
    went = iter((True, True, False))
    counted(store, JUDGING, LATER, go_on=lambda: next(went))
    assert blocks(store) == [0, 1]


def test_the_words_are_the_same(store: Store) -> None:
    settle(store)
    first = review_table(summed_up(counted(store, JUDGING, LATER), JUDGING))
    assert review_table(summed_up(counted(store, JUDGING, LATER), JUDGING)) == first
    assert "14 conversations" in first or "16 conversations" in first


def blocks(store: Store) -> list[int]:
    with store.read() as view:
        return list(view.connection.exec_driver_sql("SELECT block FROM totals ORDER BY block").scalars())
