"""Everything is deleted when its time is over and not before, by the table that "privacy" shows."""

import asyncio
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from shutil import copytree

import pytest
from sqlalchemy import select

from tests.commands import run
from tests.conversation.guides import shipped_guide
from tests.keeping.place import CODE, ME, NOW, SAID, Place
from tests.store.fresh import open_fresh
from tests.words import words_of
from triagebot.conversation import Message, open_case, turn
from triagebot.delivery import Delivery
from triagebot.errors import DataError
from triagebot.serving import tidying
from triagebot.shop import built_in_shop, load_shop, retention
from triagebot.store import Store, Transaction
from triagebot.store.bikes import Bikes
from triagebot.store.grants import Grants
from triagebot.store.loans import Loans
from triagebot.store.photos import Photos
from triagebot.store.post import Post
from triagebot.store.requests import Requests
from triagebot.store.retention import KINDS, due
from triagebot.store.staff import Staff, Tickets
from triagebot.store.tables import cases, conversations, grants, inbox, loans, outbox, photos, requests

KEPT = shipped_guide().shop.kept


def shop_with(tmp_path: Path, keep: str) -> Path:
    """The example shop, with a line of its own about what it keeps."""
    folder = tmp_path / "shop"
    copytree(built_in_shop(), folder)
    file = folder / "shop.yaml"
    file.write_text(file.read_text(encoding="utf-8") + f"keep: {keep}\n", encoding="utf-8")
    return folder


def removed(store: Store, now: datetime, kept: Mapping[str, timedelta] = KEPT) -> dict[str, int]:
    counts = dict.fromkeys(KINDS, 0)
    for job in due(store, kept, now):
        with store.begin() as tx:
            counts[job.kind] += job(tx)
    return {kind: count for kind, count in counts.items() if count}


# --- the table --------------------------------------------------------------------------------------------------------


def test_every_row_that_goes_by_days_has_a_job_and_every_job_a_row() -> None:
    assert {row.id for row in retention().values() if row.days is not None} == set(KINDS)
    assert all(row.goes_with in KINDS for row in retention().values() if row.goes_with is not None)


def test_privacy_says_of_every_row_what_why_and_how_long() -> None:
    guide = shipped_guide()
    said = words_of(turn(guide, open_case(guide, "AAA-BBB", "en", NOW), Message("privacy"), NOW).reply)
    texts = guide.language("en").texts
    for row in retention().values():
        assert texts(f"kept-{row.id}") in said
    assert "2 years after the last word" in said
    assert "6 months after they came" in said
    assert "7 days" in said


def test_a_shop_keeps_things_for_less(tmp_path: Path) -> None:
    shop = load_shop(shop_with(tmp_path, "{cases: 365, photos: 45}"), None)
    assert (shop.kept["cases"].days, shop.kept["photos"].days, shop.kept["links"].days) == (365, 45, 7)


@pytest.mark.parametrize(
    ("keep", "complaint"),
    [
        ("{case: 365}", "nothing is kept by days under 'case'; what is: cases,"),
        ("{backups: 3}", "nothing is kept by days under 'backups'"),
        ("{cases: 731}", "cases are kept for 1 to 730 days; 731 is not one of these"),
        ("{digests: 1}", "digests are kept for 2 to 7 days"),
        ("{cases: long}", "keep.cases: should be a whole number"),
    ],
)
def test_mistakes_in_it_are_told_with_their_place(tmp_path: Path, keep: str, complaint: str) -> None:
    folder = shop_with(tmp_path, keep)
    line = len((folder / "shop.yaml").read_text(encoding="utf-8").splitlines())
    with pytest.raises(DataError) as raised:
        load_shop(folder, None)
    (problem,) = raised.value.problems
    assert complaint in str(problem)
    assert f"shop.yaml:{line}:" in str(problem)


# --- the job ----------------------------------------------------------------------------------------------------------


def number_of(tx: Transaction) -> int:
    return tx.connection.scalar(select(cases.c.id).where(cases.c.code == CODE)) or 0


def a_photo(tx: Transaction) -> None:
    Photos(tx).handed(number_of(tx), "paper", b"picture", NOW, 9, {})


def a_visit(tx: Transaction) -> None:
    asked = Requests(tx).ask_visit(number_of(tx), "2026-03-02", "morning", 3, "a visit", "", NOW)
    assert asked


def a_link(tx: Transaction) -> None:
    Grants(tx).issue("card", number_of(tx), {}, NOW, NOW)


def a_name(tx: Transaction) -> None:
    Loans(tx).lend("remover-2-notch", "Wilhelmina", None, "Bo", NOW, None)


def a_message_set_aside(tx: Transaction) -> None:
    number = Post(tx).receive("paper", "k", tx.lookup_hash(ME), NOW, "waiting", {"text": SAID})
    assert number is not None
    Post(tx).tried(number, 3, "", aside=True)


def a_message_that_is_done(tx: Transaction) -> None:
    Post(tx).receive("paper", "k2", tx.lookup_hash(ME), NOW, "done", None)


def nothing(tx: Transaction) -> None:
    """What the place is filled with already."""


ROWS: dict[str, tuple[Callable[[Transaction], None], int]] = {
    "photos": (a_photo, 1),
    "visits": (a_visit, 1),
    "links": (a_link, 1),
    "loans": (a_name, 1),
    "aside": (a_message_set_aside, 1),
    "digests": (a_message_that_is_done, 1),
    "receipts": (nothing, 1),
    "cases": (nothing, 1),
}
TABLES = {
    "photos": photos, "visits": requests, "links": grants, "aside": inbox, "digests": inbox, "cases": cases,
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_goes_when_its_days_are_over_and_not_before(place: Place, kind: str) -> None:
    put, count = ROWS[kind]
    long = {name: timedelta(days=9999) for name in KINDS} | {kind: KEPT[kind]}
    with place.open() as store:
        with store.begin() as tx:
            put(tx)
        on_the_day = NOW + KEPT[kind]
        assert removed(store, on_the_day - timedelta(seconds=1), long) == {}
        assert removed(store, on_the_day + timedelta(days=2), long) == {kind: count}
        assert removed(store, on_the_day + timedelta(days=2), long) == {}
        with store.read() as view:
            if kind in TABLES:
                assert view.connection.execute(select(TABLES[kind])).all() == []


def test_the_name_goes_and_the_tool_is_still_out(place: Place) -> None:
    with place.open() as store:
        with store.begin() as tx:
            a_name(tx)
        removed(store, NOW + KEPT["loans"] + timedelta(days=1))
        with store.read() as view:
            (loan,) = Loans(view).out()
            assert (loan.to, loan.by, loan.since) == ("", "Bo", NOW)
            assert len(view.connection.execute(select(loans)).all()) == 1


def test_with_their_last_case_goes_where_somebody_is_reached(place: Place) -> None:
    with place.open() as store:
        removed(store, NOW + KEPT["cases"] + timedelta(days=1))
        with store.read() as view:
            assert view.connection.execute(select(conversations)).all() == []
            assert view.connection.execute(select(outbox)).all() == []


def test_who_has_another_case_is_still_reached(place: Place) -> None:
    later = NOW + KEPT["cases"]
    with place.open() as store:
        with store.begin() as tx:
            tx.open_case(ME, "AAAAAA", "rear-sprockets", later)
        assert removed(store, later + timedelta(days=1))["cases"] == 1
        with store.read() as view:
            assert len(view.connection.execute(select(conversations)).all()) == 1


def said_again(tx: Transaction) -> None:
    stored = tx.case(number_of(tx))
    assert stored is not None
    n = len(stored.events)
    at = NOW + KEPT["cases"]
    tx.append(stored.id, n, [{"kind": "said", "at": at.isoformat(), "n": n}])


def somebody_has_it(tx: Transaction) -> None:
    Tickets(tx).open(number_of(tx), "doubt", NOW)
    Tickets(tx).claim(number_of(tx), "somebody")


def the_bike_is_here(tx: Transaction) -> None:
    Bikes(tx).take_in(number_of(tx), "a bike", "Wilhelmina", "", "", NOW, None, apart=False)


def a_tool_is_out(tx: Transaction) -> None:
    Loans(tx).lend("remover-2-notch", "", number_of(tx), "Bo", NOW, None)


def staff_wrote(tx: Transaction) -> None:
    member = Staff(tx).admit(tx.lookup_hash("terminal:bo"), "member", "Bo", NOW)
    Staff(tx).did(member, "said", NOW + KEPT["cases"], number_of(tx), text="come by")


@pytest.mark.parametrize("use", [said_again, somebody_has_it, the_bike_is_here, a_tool_is_out, staff_wrote])
def test_a_case_that_is_in_use_stays_however_old_it_is(place: Place, use: Callable[[Transaction], None]) -> None:
    with place.open() as store:
        with store.begin() as tx:
            use(tx)
        assert "cases" not in removed(store, NOW + KEPT["cases"] + timedelta(days=1))
    assert len(list((place.data).iterdir())) > 0


def test_what_changed_since_it_was_found_stays(place: Place) -> None:
    with place.open() as store:
        (job,) = [job for job in due(store, KEPT, NOW + KEPT["cases"] + timedelta(days=1)) if job.kind == "cases"]
        with store.begin() as tx:
            said_again(tx)
        with store.begin() as tx:
            assert job(tx) == 0


def test_many_go_some_at_a_time(place: Place) -> None:
    with place.open() as store:
        with store.begin() as tx:
            for number in range(450):
                Post(tx).receive("paper", f"many {number}", tx.lookup_hash(ME), NOW, "done", None)
        jobs = [job for job in due(store, KEPT, NOW + timedelta(days=8)) if job.kind == "digests"]
        assert [len(job.numbers) for job in jobs] == [200, 200, 50]


# --- the command, and SQLite's log ------------------------------------------------------------------------------------


def test_the_command_says_what_it_would_delete_and_deletes_it(place: Place) -> None:
    key = str(place.key)
    would = run("tidy", "--dry-run", data=place.data, TRIAGEBOT_KEY_FILE=key).stdout
    assert "receipts: 1 (kept for 7 days)" in would
    assert "Nothing was deleted" in would
    for count in (1, 0):
        done = run("tidy", data=place.data, TRIAGEBOT_KEY_FILE=key).stdout
        assert f"receipts: {count} (kept for 7 days)" in done
        assert done.endswith("deleted, and overwritten in the files\n")


def test_the_log_is_emptied_once_nobody_reads_what_stood_there(place: Place) -> None:
    log = place.data / "triagebot.sqlite3-wal"
    with place.open() as store:
        with store.begin() as tx:
            a_name(tx)
        with store.read() as view:
            view.code_of(1)
            with store.begin() as tx:
                tx.forget(ME)
            assert store.log_is_due
            assert log.stat().st_size > 0
        assert store.empty_log()
        assert not store.log_is_due
        assert log.stat().st_size == 0


def test_serving_deletes_by_itself_what_is_due(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tidying, "TIDY_FIRST", 0.0)
    monkeypatch.setattr(tidying, "TIDY_EVERY", 0.0)
    guide = shipped_guide()
    counted: list[str] = []

    async def until_tidied(store: Store) -> dict[str, int]:
        async with Delivery(guide, store, lambda: NOW + timedelta(days=8)) as delivery:
            async with tidying.tidying(delivery, guide.shop.kept, lambda ending: counted.append("all")):
                while len(counted) < 2:
                    await asyncio.sleep(0)
            return delivery.counts.tidied

    with open_fresh(tmp_path / "data", tmp_path / "key") as store:
        with store.begin() as tx:
            a_message_that_is_done(tx)
        assert asyncio.run(until_tidied(store)) == {"digests": 1}
