"""What is counted of cases without folding them is the same as if every case were folded."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.study.shelf import FOUR_NOTCH, TWELVE, closed, keep, said
from triagebot.cases import summaries
from triagebot.cases.loaded import LoadedCase, rows_of
from triagebot.cases.runs import Run, runs_of
from triagebot.cases.summaries import counted, day_of, kept_runs, rebuild, refresh
from triagebot.conversation import Case, Message, turn
from triagebot.store import Store, StoredCase, open_store
from triagebot.store.summaries import Summaries
from triagebot.testing import START

TOPIC = "rear-sprockets"
MIDNIGHT, NIGHT = START.replace(hour=0, minute=0), START.replace(hour=23, minute=50)


def some() -> list[Case]:
    return [
        said(*FOUR_NOTCH, code="AAA-001"),
        closed(said(*FOUR_NOTCH, code="AAA-002"), "freewheel-4-notch-24", True),
        closed(said(*FOUR_NOTCH, code="AAA-003"), "freewheel-2-notch", False),
        closed(said(*TWELVE, code="AAA-004", days=-3), None),
        said("person", code="AAA-005"),
        said("12 splines", "stop", code="AAA-006"),
        said("I don't know", "about 23 or 24 mm", "wider than a 1 euro coin", code="AAA-007"),
        said(*FOUR_NOTCH, "restart", "20 splines", code="AAA-008", days=-3),
    ]


@pytest.fixture
def cases() -> list[Case]:
    return some()


@pytest.fixture
def store(tmp_path: Path, cases: list[Case]) -> Iterator[Store]:
    key = keep(tmp_path / "data", cases)
    with open_store(tmp_path / "data", key_file=key) as store:
        yield store


@pytest.fixture
def folded(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The codes of the cases that were folded to be counted."""
    found: list[str] = []
    unfold = summaries.unfolded

    def noted(stored: StoredCase) -> LoadedCase:
        found.append(stored.code)
        return unfold(stored)

    monkeypatch.setattr(summaries, "unfolded", noted)
    return found


def count(store: Store) -> None:
    """Works out all that is out of date."""
    with store.begin() as tx:
        while refresh(tx):
            pass


def runs(store: Store, since: datetime | None = None) -> list[Run]:
    with store.read() as view:
        return list(kept_runs(view, TOPIC, since))


def every_run(cases: list[Case]) -> list[Run]:
    return [run for case in cases for run in runs_of(case.events)]


def test_runs_are_the_same_folded_or_kept(store: Store, cases: list[Case], folded: list[str]) -> None:
    assert runs(store) == every_run(cases)
    assert len(folded) == len(cases)
    count(store)
    folded.clear()
    assert runs(store) == every_run(cases)
    assert folded == []


def test_the_day_is_the_same_folded_or_kept(store: Store, cases: list[Case], folded: list[str]) -> None:
    whole = counted(cases, MIDNIGHT, NIGHT)
    assert whole.begun.total() == 6
    assert whole.closed == {True: 1, False: 1}
    with store.read() as view:
        assert day_of(view, TOPIC, MIDNIGHT, NIGHT) == whole
    assert "AAA-008" not in folded  # nothing happened in it that day
    count(store)
    folded.clear()
    with store.read() as view:
        assert day_of(view, TOPIC, MIDNIGHT, NIGHT) == whole
    assert folded == []


def test_only_what_changed_is_folded_again(store: Store, cases: list[Case], folded: list[str]) -> None:
    count(store)
    more = turn(shipped_guide(), cases[6], Message("4 notches"), START + timedelta(hours=2))
    with store.begin() as tx:
        tx.append(7, len(cases[6].events), rows_of(more.events, {}))
    folded.clear()
    cases[6] = more.case
    assert runs(store) == every_run(cases)
    with store.read() as view:
        assert day_of(view, TOPIC, MIDNIGHT, NIGHT) == counted(cases, MIDNIGHT, NIGHT)
    assert folded == ["AAA-007", "AAA-007"]


def test_a_rebuild_works_out_everything_and_says_how_far_it_is(
    store: Store, cases: list[Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(summaries, "FEW", 0.15)
    monkeypatch.setattr(summaries, "refresh", lambda tx, now, most: refresh(tx, now, int(most)))
    count(store)
    with store.begin() as tx:
        tx.connection.exec_driver_sql("UPDATE summaries SET outcome = 'nonsense', body = 'nonsense', closed_at = NULL")
    told: list[tuple[int, int]] = []
    assert rebuild(store, NIGHT, lambda done, of: told.append((done, of))) == 8
    assert told == [(3, 8), (6, 8), (8, 8)]
    assert runs(store) == every_run(cases)
    with store.read() as view:
        assert day_of(view, TOPIC, MIDNIGHT, NIGHT) == counted(cases, MIDNIGHT, NIGHT)


def test_a_case_that_goes_takes_what_is_counted_of_it_along(store: Store, cases: list[Case]) -> None:
    count(store)
    with store.begin() as tx:
        tx.forget("terminal:p1")
    assert [run.code for run in runs(store)] == [run.code for run in every_run(cases) if run.code != "AAA-002"]


def test_one_case_that_cannot_be_read_keeps_no_other_from_being_counted(store: Store, cases: list[Case]) -> None:
    with store.begin() as tx:
        tx.connection.exec_driver_sql("DELETE FROM events WHERE case_id = 2 AND seq = 1")
    count(store)
    with store.read() as view:
        day = day_of(view, TOPIC, MIDNIGHT, NIGHT)
    assert day == counted([*cases[:1], *cases[2:]], MIDNIGHT, NIGHT)


def test_no_words_and_no_readings_can_be_seen_in_what_is_counted(store: Store) -> None:
    count(store)
    with store.begin() as tx:
        rows = list(tx.connection.exec_driver_sql("SELECT * FROM summaries").mappings())
        assert any("calliper" in tx.cipher.decrypt(row["body"]) for row in rows)
        assert not any("by calliper" in tx.cipher.decrypt(row["body"]) for row in rows)  # the reading, not the words
    assert not any("calliper" in str(dict(row)) for row in rows)


def test_a_delivery_counts_what_has_been_left_alone(office: Office) -> None:
    office.bring("p", "12 splines")
    office.run(office.delivery.count_cases())
    with office.store.store.read() as view:
        assert Summaries(view).out_of_date() == [1]  # who has just written goes on
    office.clock.wait(minutes=2)
    office.run(office.delivery.count_cases())
    with office.store.store.read() as view:
        assert Summaries(view).out_of_date() == []
        assert [run.open for run in kept_runs(view, TOPIC)] == [office.held("p").case.now.question]
