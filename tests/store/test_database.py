"""Prepared statements do what the database library does with the same ones, on SQLite's driver and through the library
alike."""

from contextlib import suppress
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from sqlalchemy import bindparam, delete, func, insert, select, update

from tests.store.engines import ON_BOTH
from triagebot.store import Store, database
from triagebot.store.database import Prepared
from triagebot.store.tables import inbox

pytestmark = ON_BOTH

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
COLUMNS = [column.name for column in inbox.c if column is not inbox.c.id]
#: Two texts that are not stored as they were typed, and two moments, one of them from elsewhere.
ROWS = [
    {"key": "a\\b", "received_at": NOW, "body": None},
    {"key": "half \ud83d of a pair", "received_at": NOW.astimezone(timezone(timedelta(hours=5))), "body": "x"},
]

TAKE = Prepared(insert(inbox).returning(inbox.c.id, inbox.c.key), COLUMNS)
TAKE_MANY = Prepared(insert(inbox), COLUMNS)
BEHIND = (
    select(inbox.c.id, inbox.c.key, inbox.c.received_at, func.length(inbox.c.body), inbox.c.body)
    .where(inbox.c.state == "waiting", inbox.c.received_at >= bindparam("since", type_=inbox.c.received_at.type))
    .order_by(inbox.c.id.desc())
    .limit(2)
)
SETTLE = Prepared(update(inbox).where(inbox.c.key == bindparam("mark")).values(state=bindparam("to")))


def row(given: dict[str, Any]) -> dict[str, Any]:
    return {"channel": "c", "conversation": "p", "state": "waiting", "attempts": 0, "reason": "", **given}


@pytest.fixture(params=["driver", "library"], autouse=True)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """On the driver itself, and as on a database whose driver is not called directly."""
    if request.param == "library":
        monkeypatch.setattr(database, "_driver", lambda connection: None)
    return str(request.param)


def test_rows_are_those_of_the_library(store: Store) -> None:
    with store.begin() as tx:
        TAKE_MANY.change_all(tx.connection, [row(each) for each in ROWS])
        found = Prepared(BEHIND).all(tx.connection, {"since": NOW})
        theirs = tx.connection.execute(BEHIND, {"since": NOW}).all()
        assert [tuple(each) for each in found] == [tuple(each) for each in theirs]
        assert [(each.key, each.received_at, each.body) for each in reversed(found)] == [
            (each["key"], NOW, each["body"]) for each in ROWS
        ]


def test_a_row_gives_the_values_that_the_database_made(store: Store) -> None:
    with store.begin() as tx:
        first, second = (TAKE.first(tx.connection, row(each)) for each in ROWS)
        assert (first.key, second.key) == (ROWS[0]["key"], ROWS[1]["key"])
        assert second.id == first.id + 1


def test_nothing_found_is_none(store: Store) -> None:
    with store.begin() as tx:
        later = {"since": NOW + timedelta(days=1)}
        assert Prepared(BEHIND).first(tx.connection, later) is None
        assert Prepared(BEHIND).value(tx.connection, later) is None


def test_a_change_counts_the_rows_that_it_changed(store: Store) -> None:
    with store.begin() as tx:
        number = TAKE.value(tx.connection, row(ROWS[0]))
        assert SETTLE.change(tx.connection, {"mark": ROWS[0]["key"], "to": "done"}) == 1
        assert SETTLE.change(tx.connection, {"mark": "nobody's", "to": "done"}) == 0
        assert tx.connection.scalar(select(inbox.c.state).where(inbox.c.id == number)) == "done"


def test_what_is_written_belongs_to_the_transaction(store: Store) -> None:
    with suppress(RuntimeError), store.begin() as tx:
        TAKE.value(tx.connection, row(ROWS[0]))
        raise RuntimeError
    with store.read() as view:
        assert view.connection.scalar(select(func.count()).select_from(inbox)) == 0


def test_a_look_stays_at_its_moment(store: Store) -> None:
    count = Prepared(select(func.count()).select_from(inbox))
    with store.read() as view:
        before = count.value(view.connection, {})
        with store.begin() as tx:
            TAKE.value(tx.connection, row(ROWS[0]))
        assert count.value(view.connection, {}) == before == 0
    with store.read() as view:
        assert count.value(view.connection, {}) == 1


def test_a_parameter_that_is_not_given_is_an_error(store: Store) -> None:
    with store.begin() as tx, pytest.raises(Exception, match="to"):
        SETTLE.change(tx.connection, {"mark": "m"})


def test_a_list_of_any_length_cannot_be_prepared(store: Store, way: str) -> None:
    some = Prepared(delete(inbox).where(inbox.c.state.in_(("done", "aside"))))
    with store.begin() as tx:
        if way == "library":
            assert some.change(tx.connection, {}) == 0
        else:
            with pytest.raises(AssertionError, match="cannot be prepared"):
                some.change(tx.connection, {})
