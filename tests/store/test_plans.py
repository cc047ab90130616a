"""Nothing that happens every day reads a whole table: it costs the same with a thousand cases and with a million."""

import re
from collections.abc import Callable, Iterator

import pytest

from tests.bench.many_cases import NOW, fill
from tests.conversation.guides import shipped_guide
from tests.store.fresh import open_fresh
from triagebot.conversation import Message
from triagebot.counter.today import digest_of
from triagebot.delivery import WaitingClient
from triagebot.store import Store, Transaction
from triagebot.store.forgetting import drop, forget_messages, own_cases, take_back_messages
from triagebot.store.post import Post
from triagebot.store.staff import Tickets
from triagebot.store.summaries import Summaries

#: Tables with rows for every case, message or person that there ever was.
BIG = frozenset(
    {"cases", "events", "parties", "photos", "conversations", "inbox", "outbox", "tickets", "deeds", "requests"}
    | {"summaries", "grants"}
)
_SCAN = re.compile(r"SCAN (\w+)")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    folder = tmp_path_factory.mktemp("many")
    with open_fresh(folder / "data", folder / "key") as store:
        fill(store, 400)
        yield store


def scans(store: Store, work: Callable[[Transaction], object]) -> dict[str, list[str]]:
    """The statements of some work that read a whole big table, with how the database goes about them."""
    found = plans(store, work).items()
    return {line: plan for line, plan in found if any(name in BIG for step in plan for name in _SCAN.findall(step))}


def plans(store: Store, work: Callable[[Transaction], object]) -> dict[str, list[str]]:
    """How the database goes about each statement of some work."""
    said: list[str] = []
    with store.begin() as tx:
        driver = tx.connection.connection.driver_connection
        driver.set_trace_callback(said.append)
        work(tx)
        driver.set_trace_callback(None)
        assert said, "it asked the database nothing"
        asked = {line for line in said if line.split()[0] in ("SELECT", "UPDATE", "DELETE", "INSERT")}
        return {line: [row[3] for row in driver.execute(f"EXPLAIN QUERY PLAN {line}")] for line in asked}


def a_turn(store: Store, tx: Transaction) -> None:
    client = WaitingClient(shipped_guide(), store)
    for text in ("9 sprockets", "it stays still", "person"):
        client._take(tx, "bench:somebody", Message(text), "en", f"key {text}")


def somebody_is_forgotten(tx: Transaction) -> None:
    who = tx.lookup_hash("bench:p3")
    take_back_messages(tx, who, own_cases(tx, who))
    tx.forget("bench:p3")
    forget_messages(tx, who, 10)
    drop(tx, who)


def what_is_asked_all_the_time(tx: Transaction) -> None:
    post, who = Post(tx), tx.lookup_hash("bench:p4")
    post.found(who)
    post.waiting()
    post.unsent("bench")
    post.unknown("bench")
    post.claim(who, NOW)
    post.receive("bench", "a key", who, NOW, "done", None)


def test_a_turn(store: Store) -> None:
    assert scans(store, lambda tx: a_turn(store, tx)) == {}


def test_what_is_asked_all_the_time(store: Store) -> None:
    assert scans(store, what_is_asked_all_the_time) == {}


def test_the_queue_and_a_thread_of_the_room(store: Store) -> None:
    def look(tx: Transaction) -> None:
        Tickets(tx).queue()
        Tickets(tx).waiting()
        Tickets(tx).in_thread("a thread")
        Tickets(tx).next_due()
        Tickets(tx).due(NOW)

    assert scans(store, look) == {}


def test_the_day(store: Store) -> None:
    assert scans(store, lambda tx: digest_of(tx, shipped_guide(), NOW)) == {}
    found = plans(store, lambda tx: digest_of(tx, shipped_guide(), NOW))
    firsts = {plan[0] for line, plan in found.items() if "summaries" in line}
    assert {step.partition(" INDEX ")[2] for step in firsts} == {
        "ix_cases_topic_opened_at (topic=? AND opened_at>? AND opened_at<?)",
        "ix_summaries_closed_at (closed_at>? AND closed_at<?)",
        "ix_summaries_changed_at (changed_at>?)",
    }


def test_what_is_out_of_date(store: Store) -> None:
    assert scans(store, lambda tx: Summaries(tx).out_of_date(before=NOW, most=5)) == {}


def test_forgetting(store: Store) -> None:
    assert scans(store, somebody_is_forgotten) == {}


def test_a_whole_table_that_is_read_is_noticed(store: Store) -> None:
    assert scans(store, lambda tx: tx.connection.exec_driver_sql("SELECT body FROM events WHERE body > 'B'").all())
