"""The thread that writes: in order, many jobs a commit, and one that fails harms no other."""

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import wait
from pathlib import Path

import pytest

from tests.delivery.office import HANGS, Dead, MortalStore
from tests.store.engines import ON_BOTH
from triagebot.delivery.writer import Writer
from triagebot.errors import StoreError
from triagebot.store import Store, Transaction, open_store
from triagebot.testing import START

pytestmark = ON_BOTH


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "data") as store:
        yield store


@pytest.fixture
def writer(store: Store) -> Iterator[Writer]:
    writer = Writer(store, slice_=3600.0)
    yield writer
    writer.close()


def opening(name: str) -> Callable[[Transaction], int]:
    """A job that leaves a trace."""
    return lambda tx: tx.open_case(f"test:{name}", name, "topic", START)


def failing(tx: Transaction) -> int:
    opening("half done")(tx)
    raise ZeroDivisionError


def codes(store: Store) -> list[str]:
    with store.read() as view:
        return [row[0] for row in view.connection.exec_driver_sql("SELECT code FROM cases ORDER BY id")]


def numbers(store: Store) -> list[int]:
    """Of the cases that there are: not every database gives a number again that was undone."""
    with store.read() as view:
        return [row[0] for row in view.connection.exec_driver_sql("SELECT id FROM cases ORDER BY id")]


class Gate:
    """Keeps the writer busy until jobs have been posted behind it, so that they meet in one transaction."""

    def __init__(self, writer: Writer) -> None:
        self.began, self.go_on = threading.Event(), threading.Event()
        self.future = writer.post(self.work)
        assert self.began.wait(HANGS)

    def work(self, tx: Transaction) -> int:
        self.began.set()
        assert self.go_on.wait(HANGS)
        return 0

    def open(self) -> None:
        self.go_on.set()


def test_jobs_are_done_in_order_and_committed_together(writer: Writer, store: Store) -> None:
    gate = Gate(writer)
    done = [writer.post(opening(name)) for name in "abcdefgh"]
    gate.open()
    assert [future.result(HANGS) for future in done] == list(range(1, 9))
    assert codes(store) == list("abcdefgh")
    assert writer.commits == 1


def test_a_job_that_fails_harms_no_other(writer: Writer, store: Store) -> None:
    gate = Gate(writer)
    before, bad, after = writer.post(opening("a")), writer.post(failing), writer.post(opening("b"))
    gate.open()
    wait([before, bad, after], timeout=HANGS)
    assert isinstance(bad.exception(), ZeroDivisionError)
    assert codes(store) == ["a", "b"]
    assert [before.result(), after.result()] == numbers(store)


def test_what_is_done_instead_keeps_the_place(writer: Writer, store: Store) -> None:
    gate = Gate(writer)
    errors: list[Exception] = []

    def instead(error: Exception) -> Callable[[Transaction], int]:
        errors.append(error)
        return opening("instead")

    first, after = writer.post(failing, instead=instead), writer.post(opening("b"))
    gate.open()
    assert [first.result(HANGS), after.result(HANGS)] == numbers(store)
    assert codes(store) == ["instead", "b"]
    assert [type(error) for error in errors] == [ZeroDivisionError]


def test_what_is_done_instead_may_fail_too(writer: Writer, store: Store) -> None:
    def worse(tx: Transaction) -> int:
        raise KeyError("worse")

    assert isinstance(writer.post(failing, instead=lambda error: worse).exception(HANGS), KeyError)
    assert [writer.post(opening("a")).result(HANGS)] == numbers(store)


def test_what_is_urgent_goes_first(writer: Writer, store: Store) -> None:
    gate = Gate(writer)
    done = [writer.post(opening("a")), writer.post(opening("b"), urgent=True)]
    gate.open()
    wait(done, timeout=HANGS)
    assert codes(store) == ["b", "a"]


def test_a_job_that_was_called_off_is_not_done(writer: Writer, store: Store) -> None:
    gate = Gate(writer)
    off, on = writer.post(opening("off")), writer.post(opening("on"))
    assert off.cancel()
    gate.open()
    on.result(HANGS)
    assert codes(store) == ["on"]


def test_a_slice_of_time_ends_a_transaction(store: Store) -> None:
    writer = Writer(store, slice_=0.0)
    gate = Gate(writer)
    done = [writer.post(opening(name)) for name in "abc"]
    gate.open()
    wait(done, timeout=HANGS)
    writer.close()
    assert writer.commits == 4


def test_closing_finishes_what_was_posted(store: Store) -> None:
    writer = Writer(store)
    gate = Gate(writer)
    done = [writer.post(opening(name)) for name in "abc"]
    gate.open()
    writer.close()
    assert [future.done() for future in done] == [True] * 3
    assert codes(store) == list("abc")
    with pytest.raises(StoreError, match="closed"):
        writer.post(opening("d"))


@pytest.mark.parametrize("moment", ["before the commit", "after the commit"])
def test_nothing_is_answered_that_was_not_committed(store: Store, moment: str) -> None:
    mortal = MortalStore(store)
    writer = Writer(mortal)  # type: ignore[arg-type]
    told: list[str] = []

    def work(tx: Transaction) -> int:
        tx.after_commit.append(lambda: told.append("committed"))
        return opening("a")(tx)

    mortal.dies = moment
    assert isinstance(writer.post(work).exception(HANGS), Dead)
    writer.close()
    assert (codes(store), told) == (([], []) if moment == "before the commit" else (["a"], ["committed"]))


def test_a_flood_of_one_conversation_lets_the_others_through(writer: Writer, store: Store) -> None:
    gate = Gate(writer)
    flood = [writer.post(opening(f"flood{number}"), conversation="flood") for number in range(20)]
    hello = writer.post(opening("hello"), conversation="bystander")
    gate.open()
    wait([*flood, hello], timeout=HANGS)
    assert codes(store).index("hello") <= 1
    assert [code for code in codes(store) if code != "hello"] == [f"flood{number}" for number in range(20)]
