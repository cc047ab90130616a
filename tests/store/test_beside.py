"""Writing beside others on PostgreSQL: what a transaction may touch, and who waits for whom."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import insert, select, update

from tests.store.other_process import NOW, PERSON, event
from triagebot.errors import StoreError
from triagebot.store import Store, open_store
from triagebot.store.beside import OWN, NeedsAlone, begin_beside, tables_of
from triagebot.store.grants import Grants
from triagebot.store.photos import Photos
from triagebot.store.post import Post
from triagebot.store.staff import Staff, Tickets
from triagebot.store.tables import cases, loans, metadata, outbox, tickets
from triagebot.store.transactions import Transaction

OTHER = "terminal:other"


@pytest.fixture
def store(folder: Path, database: str) -> Iterator[Store]:
    with open_store(folder, 0.3, database=database) as store:
        yield store


@pytest.fixture
def second(store: Store, folder: Path, database: str) -> Iterator[Store]:
    with open_store(folder, 0.3, database=database) as second:
        yield second


def hash_of(store: Store, name: str) -> str:
    with store.read() as view:
        return view.lookup_hash(name)


def with_a_case(store: Store, name: str = PERSON, code: str = "ABCD") -> int:
    with store.begin() as tx:
        number = tx.open_case(name, code, "t", NOW)
        tx.append(number, 0, [event(0)])
    return number


# --- who waits for whom -----------------------------------------------------------------------------------------------


def test_two_conversations_are_written_side_by_side(store: Store, second: Store) -> None:
    mine, theirs = with_a_case(store), with_a_case(store, OTHER, "EFGH")
    with begin_beside(store) as tx, begin_beside(second) as beside:
        assert tx.hold(hash_of(store, PERSON), wait=True)
        assert beside.hold(hash_of(store, OTHER), wait=True)
        for each, name, number in ((tx, PERSON, mine), (beside, OTHER, theirs)):
            assert each.current_version(each.lookup_hash(name)) == (number, 1)
            each.append(number, 1, [event(1)])
    with store.read() as view:
        assert [len(view.case(number).events) for number in (mine, theirs)] == [2, 2]  # type: ignore[union-attr]


def test_one_conversation_is_written_by_one_at_a_time(store: Store, second: Store) -> None:
    who = hash_of(store, PERSON)
    with begin_beside(store) as tx:
        assert tx.hold(who, wait=True)
        with begin_beside(second) as beside:
            assert not beside.hold(who, wait=False)
        locked = pytest.raises(StoreError, match="is being written by another program")
        with locked, begin_beside(second) as beside:
            beside.hold(who, wait=True)


def test_who_waited_sees_what_was_written_meanwhile(store: Store, second: Store) -> None:
    """The lock is had in one statement, and read in a later one."""
    number, who = with_a_case(store), hash_of(store, PERSON)
    with begin_beside(second) as later:
        with begin_beside(store) as first:
            first.hold(who, wait=True)
            first.current_version(who)
            first.append(number, 1, [event(1)])
        later.hold(who, wait=True)
        assert later.current_version(who) == (number, 2)


def test_nobody_writes_beside_one_who_is_alone(store: Store, second: Store) -> None:
    locked = pytest.raises(StoreError, match="is being written by another program")
    with store.begin(), locked, begin_beside(second):
        pytest.fail("it began")
    with begin_beside(store), locked, second.begin():
        pytest.fail("it began")


def test_other_schemas_do_not_wait(folder: Path, database: str) -> None:
    url = f"{database}&options=-csearch_path%3Dnorth"
    with open_store(folder, 0.3, database=database) as store, store.begin():
        pass
    with (
        open_store(folder.with_name("n"), 0.3, database=url) as north,
        open_store(folder, 0.3, database=database) as store,
        store.begin(),
        north.begin() as tx,
    ):
        tx.open_case(PERSON, "ABCD", "t", NOW)


# --- what may be touched ----------------------------------------------------------------------------------------------


def of_another(tx: Transaction, number: int) -> None:
    Post(tx).found(tx.lookup_hash(OTHER))


def tells_another(tx: Transaction, number: int) -> None:
    Post(tx).set_address(tx.lookup_hash(OTHER), "terminal", {"to": "other"})


def reads_a_case_by_its_code(tx: Transaction, number: int) -> None:
    tx.case_by_code("EFGH")


def appends_unseen(tx: Transaction, number: int) -> None:
    tx.append(number, 1, [event(1)])


def opens_a_ticket(tx: Transaction, number: int) -> None:
    Tickets(tx).open(number, "doubt", NOW)


def keeps_a_photo(tx: Transaction, number: int) -> None:
    Photos(tx).sent(number, "terminal", {}, NOW)


def lends_a_tool(tx: Transaction, number: int) -> None:
    tx.connection.execute(insert(loans), {"tool": "five", "since": NOW, "body": ""})


def changes_anything(tx: Transaction, number: int) -> None:
    tx.connection.execute(update(outbox).values(state="failed"))


def reads_all_tickets_with_their_codes(tx: Transaction, number: int) -> None:
    tx.connection.execute(select(tickets, cases.c.code).join(cases, cases.c.id == tickets.c.case_id))


def forgets(tx: Transaction, number: int) -> None:
    tx.forget(PERSON)


@pytest.mark.parametrize(
    "deed",
    [
        of_another, tells_another, reads_a_case_by_its_code, appends_unseen, opens_a_ticket, keeps_a_photo,
        lends_a_tool, changes_anything, reads_all_tickets_with_their_codes, forgets,
    ],
)  # fmt: skip
def test_what_touches_more_is_refused_and_undone(store: Store, deed: object) -> None:
    number, who = with_a_case(store), hash_of(store, PERSON)
    assert callable(deed)
    refused = pytest.raises(NeedsAlone)
    with refused, begin_beside(store) as tx:
        tx.hold(who, wait=True)
        Post(tx).receive("terminal", "key", who, NOW, "done", None)
        deed(tx, number)
    with store.begin() as tx:
        assert Post(tx).receive("terminal", "key", who, NOW, "done", None) is not None
        deed(tx, number)  # alone, it may


def test_without_a_lock_nothing_may_be_touched(store: Store) -> None:
    with pytest.raises(NeedsAlone), begin_beside(store) as tx:
        tx.current_version(hash_of(store, PERSON))


def test_a_case_in_which_another_takes_part_is_taken_alone(store: Store) -> None:
    number, who = with_a_case(store), hash_of(store, PERSON)
    with store.begin() as tx:
        tx.join(number, tx.lookup_hash(OTHER), "mentor")
    refused = pytest.raises(NeedsAlone)
    with refused, begin_beside(store) as tx:
        tx.hold(who, wait=True)
        tx.current_version(who)


def test_what_is_written_alone_may_be_read(store: Store) -> None:
    number, who = with_a_case(store), hash_of(store, PERSON)
    with begin_beside(store) as tx:
        tx.hold(who, wait=True)
        assert Staff(tx).members() == ()
        assert tx.current_version(who) == (number, 1)
        assert not Tickets(tx).wake(number)
        assert Grants(tx).issue("card", number, {}, NOW, NOW)


def test_a_new_person_gets_a_key_and_a_case(store: Store) -> None:
    who = hash_of(store, PERSON)
    with begin_beside(store) as tx:
        tx.hold(who, wait=True)
        Post(tx).set_address(who, "terminal", {"to": "me"})
        tx.append(tx.open_case(PERSON, "ABCD", "t", NOW), 0, [event(0)])
    with store.read() as view:
        assert Post(view).found(who).who is not None
        assert view.case_by_code("ABCD") is not None


def test_the_tables_are_told_of_subqueries_too() -> None:
    inner = select(outbox.c.id).where(outbox.c.state == "waiting").scalar_subquery()
    assert tables_of(select(loans.c.id).where(loans.c.id == inner)) == {loans, outbox}
    assert set(metadata.tables.values()) >= OWN
