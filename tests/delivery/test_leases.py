"""Which process serves a channel, where several are on one database; and the turns that wait for any of them."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.delivery.office import Office
from triagebot.delivery.leases import Lessee, NotHeldError, holder_in
from triagebot.delivery.process_lock import staffed
from triagebot.delivery.queue import Queue, can_wait, put_down
from triagebot.messages import Said
from triagebot.messages.message import Sent
from triagebot.store import Store, Transaction
from triagebot.store.leases import LASTS, Leases
from triagebot.store.waiting_turns import heads


class Hour:
    """A database whose clock is set."""

    def __init__(self) -> None:
        self.time = datetime(2026, 3, 1, tzinfo=UTC)

    def now(self, connection: object) -> datetime:
        return self.time


@pytest.fixture
def hour() -> Hour:
    return Hour()


@pytest.fixture
def store(office: Office) -> Store:
    return office.store.store


def lessee(store: Store, hour: Hour, holder: str) -> Lessee:
    async def do(job: Callable[[Transaction], Any]) -> Any:
        with store.begin() as tx:
            return job(tx)

    made = Lessee(do, hour, holder)  # type: ignore[arg-type]
    made.add("telegram", fetches=True)
    made.add("hooked", fetches=False)
    return made


def test_a_lease_is_held_by_one_until_it_runs_out(store: Store, hour: Hour) -> None:
    with store.begin() as tx:
        leases = Leases(tx, hour)  # type: ignore[arg-type]
        assert leases.take("telegram", "a") == 1
        assert leases.take("telegram", "b") is None
        hour.time += LASTS - timedelta(seconds=1)
        assert leases.holds("telegram", 1)
        assert leases.renew("telegram", 1)
        hour.time += LASTS
        assert not leases.holds("telegram", 1)
        assert leases.take("telegram", "b") == 2
        assert not leases.renew("telegram", 1)
        assert not leases.holds("telegram", 1)
        leases.give_up("telegram", 1)  # nothing to give up
        assert leases.holds("telegram", 2)
        leases.give_up("telegram", 2)
        assert leases.take("telegram", "a") == 3


def test_who_is_started_again_takes_its_own_at_once(store: Store, hour: Hour) -> None:
    with store.begin() as tx:
        leases = Leases(tx, hour)  # type: ignore[arg-type]
        assert [leases.take("telegram", "a"), leases.take("telegram", "a")] == [1, 2]
        assert not leases.holds("telegram", 1)
        assert leases.of_others("a") == frozenset()
        assert leases.of_others("b") == {"telegram"}


def test_who_held_it_before_is_refused(store: Store, hour: Hour) -> None:
    first, second = lessee(store, hour, "a"), lessee(store, hour, "b")
    with store.begin() as tx, pytest.raises(NotHeldError):
        first.check(tx, "telegram")  # it never had it
    assert asyncio.run(first.look("telegram"))
    assert not asyncio.run(second.look("telegram"))
    hour.time += LASTS
    with store.begin() as tx:
        assert not first.holds(tx, "telegram")  # nobody else has it yet
    assert asyncio.run(second.look("telegram"))
    with store.begin() as tx:
        assert not first.holds(tx, "telegram")
        assert second.holds(tx, "telegram")
        with pytest.raises(NotHeldError):
            first.with_fetched("telegram", lambda tx: None, tx)
    assert not asyncio.run(first.look("telegram"))
    assert not first.good("telegram")
    asyncio.run(second.close())
    assert asyncio.run(first.look("telegram"))


def test_what_is_brought_may_come_to_any_process(store: Store, hour: Hour) -> None:
    other = lessee(store, hour, "b")
    with store.begin() as tx:
        assert other.with_fetched("hooked", lambda tx: "taken in", tx) == "taken in"
        assert not other.holds(tx, "hooked")
        assert other.holds(tx, "page")  # which needs no lease


def test_processes_are_counted(store: Store, hour: Hour) -> None:
    first, second = lessee(store, hour, "a"), lessee(store, hour, "b")
    for each in (first, second, first):
        asyncio.run(each.count())
    assert (first.processes, second.processes) == (2, 2)
    asyncio.run(second.close())
    asyncio.run(first.count())
    assert first.processes == 1


def test_a_copy_of_a_data_folder_is_another_process(tmp_path: Path) -> None:
    names = []
    for name in ("first", "second"):
        folder = tmp_path / name
        folder.mkdir()
        if names:
            (folder / "desk.own").write_bytes((tmp_path / "first" / "desk.own").read_bytes())
        with staffed(folder):
            names.append(holder_in(folder))
            assert holder_in(folder) == names[-1]
    assert len(set(names)) == 2


def test_turns_that_were_put_down_are_taken_in_order(office: Office) -> None:
    """The head of each conversation at a time, whatever waits behind it."""
    said = (("ada", "9 sprockets"), ("ada", "it stays still"), ("ben", "it turns"))
    with office.store.store.begin() as tx:
        for person, text in said:
            received = put_down(office.delivery._inbox, office.incoming(person, Said(text)), tx)
            assert received.outcome == "waiting"
        assert len(heads(tx, 10)) == 2

    async def take() -> None:
        async def nothing() -> None:
            """Nobody else puts anything out."""

        queue = Queue(office.store.store, office.delivery._take_oldest, lambda who: None, nothing)
        queue.open()
        queue.wake()
        while [state for (state,) in office.rows("inbox", "state")] != ["done"] * 3:
            await office.a_moment()
        await queue.close()
        await office.delivery.idle()

    office.run(take())
    held = office.held("ada")
    assert held is not None
    assert {fact.reading.question for fact in held.case.now.facts} >= {"sprockets", "spin"}


def test_what_failed_once_is_not_a_head(office: Office) -> None:
    with office.store.store.begin() as tx:
        put_down(office.delivery._inbox, office.incoming("ada", Said("9 sprockets")), tx)
        tx.connection.exec_driver_sql("UPDATE inbox SET attempts = 1")
        assert heads(tx, 10) == ()


def test_what_may_touch_more_does_not_wait_for_others(office: Office) -> None:
    assert can_wait(office.incoming("ada", Said("hello")))
    assert not can_wait(office.incoming("ada", Sent("photo")))
