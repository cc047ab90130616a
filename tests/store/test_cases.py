"""Cases and events inside one process: what goes in comes out, in order, whole or not at all."""

from datetime import UTC, datetime, timedelta, timezone
from typing import Any, cast

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.engines import ON_BOTH, ON_SQLITE
from tests.store.reading import cases_of, current_case
from triagebot.errors import StoreError
from triagebot.store import Store, StoreConflict, Transaction
from triagebot.store.transactions import person_hash

pytestmark = ON_BOTH

NOW = datetime(2026, 3, 1, 12, 30, 15, 250000, tzinfo=timezone(timedelta(hours=1)))
ME, YOU = "terminal:me", "lines:p1"


def said(n: object = 0, **more: Any) -> dict[str, Any]:
    return {"kind": "said", "at": NOW.isoformat(), "n": n, **more}


def test_a_case_comes_back_as_it_was_written(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "K7QX", "rear-sprockets", NOW)
        tx.append(number, 0, [said(0), said(1)])
        tx.append(number, 2, [said(2)])
    with store.read() as view:
        case = current_case(view, ME)
    assert case is not None
    assert (case.id, case.person, case.code, case.topic) == (
        number,
        person_hash(store.cipher, ME),
        "K7QX",
        "rear-sprockets",
    )
    assert case.opened_at == NOW
    assert case.opened_at.utcoffset() == timedelta(0)
    assert case.events == (said(0), said(1), said(2))


def test_the_current_case_is_the_newest_of_that_person_alone(store: Store) -> None:
    with store.begin() as tx:
        first = tx.open_case(ME, "AAAA", "t", NOW)
        theirs = tx.open_case(YOU, "BBBB", "t", NOW)
        # A clock that was put back does not make an older case current.
        second = tx.open_case(ME, "CCCC", "t", NOW - timedelta(days=1))
        tx.append(first, 0, [said("first")])
        tx.append(theirs, 0, [said("theirs")])
    with store.read() as view:
        current = current_case(view, ME)
        assert current is not None
        assert (current.id, current.events) == (second, ())
        assert [case.id for case in cases_of(view, ME)] == [first, second]
        assert [case.id for case in cases_of(view, YOU)] == [theirs]
        assert current_case(view, "terminal:nobody") is None
        assert cases_of(view, "terminal:nobody") == ()


def test_a_case_is_found_by_its_code(store: Store) -> None:
    with store.begin() as tx:
        tx.open_case(ME, "AAAA", "t", NOW)
        number = tx.open_case(YOU, "BBBB", "t", NOW)
        tx.append(number, 0, [said()])
    with store.read() as view:
        found = view.case_by_code("BBBB")
        assert found is not None
        assert (found.person, found.events) == (person_hash(store.cipher, YOU), (said(),))
        assert view.case_by_code("bbbb") is None
        assert view.case_by_code("'; DROP TABLE cases; --\ud800\0") is None


def test_a_code_in_use_is_refused_and_the_transaction_goes_on(store: Store) -> None:
    with store.begin() as tx:
        tx.open_case(ME, "AAAA", "t", NOW)
    with store.begin() as tx:
        with pytest.raises(StoreConflict, match="AAAA is in use"):
            tx.open_case(YOU, "AAAA", "t", NOW)
        tx.open_case(YOU, "BBBB", "t", NOW)
    with store.read() as view:
        assert [case.code for case in cases_of(view, YOU)] == ["BBBB"]


def test_who_read_before_another_wrote_is_told_so(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)
        tx.append(number, 0, [said(0)])
    with store.begin() as tx:
        tx.append(number, 1, [said("quicker")])
    for first_seq in (0, 1, 3):
        with pytest.raises(StoreConflict, match="continued elsewhere"), store.begin() as tx:
            tx.append(number, first_seq, [said("later")])
    with store.read() as view:
        case = current_case(view, ME)
    assert case is not None
    assert case.events == (said(0), said("quicker"))


def test_the_database_itself_refuses_a_number_twice(store: Store) -> None:
    """What protects against a writer that is not serialised with us, as on a server of its own."""

    class Blind:
        """A connection to which every case looks empty."""

        def __init__(self, connection: Any) -> None:
            self._connection = connection

        def scalar(self, statement: Any, *arguments: Any) -> Any:
            found = self._connection.scalar(statement, *arguments)
            return 0 if "count(*)" in str(statement) else found

        def __getattr__(self, name: str) -> Any:
            return getattr(self._connection, name)

    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)
        tx.append(number, 0, [said(0)])
    with pytest.raises(StoreConflict, match="continued elsewhere"), store.begin() as tx:
        Transaction(cast(Any, Blind(tx.connection)), store.database.place, tx.cipher).append(number, 0, [said("later")])
    with store.begin() as tx:
        tx.append(number, 1, [said("in its turn")])
    with store.read() as view:
        case = current_case(view, ME)
    assert case is not None
    assert case.events == (said(0), said("in its turn"))


def test_an_error_in_the_block_undoes_all_of_it(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)

    def broken_turn() -> None:
        with store.begin() as tx:
            tx.append(number, 0, [said()])
            tx.open_case(YOU, "BBBB", "t", NOW)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        broken_turn()
    with store.read() as view:
        case = current_case(view, ME)
        assert case is not None
        assert case.events == ()
        assert current_case(view, YOU) is None


def test_a_reader_sees_one_moment_and_waits_for_nobody(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)
    with store.read() as view:
        assert current_case(view, ME) is not None
        with store.begin() as tx:
            tx.append(number, 0, [said()])
        before = current_case(view, ME)
    with store.read() as view:
        after = current_case(view, ME)
    assert before is not None
    assert after is not None
    assert (before.events, after.events) == ((), (said(),))


def test_appending_nothing_is_no_news(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)
        tx.append(number, 0, [])
        with pytest.raises(StoreConflict):
            tx.append(number, 1, [])


@pytest.mark.parametrize(
    "event",
    [
        {},
        {"kind": "said"},
        {"kind": "", "at": NOW.isoformat()},
        {"kind": 3, "at": NOW.isoformat()},
        {"kind": "said", "at": "2026-03-01T12:00:00"},
        {"kind": "said", "at": "yesterday"},
        {"kind": "said", "at": 12.5},
        said(float("nan")),
        said(float("inf")),
    ],
)
def test_what_is_no_event_is_refused_whole(store: Store, event: dict[str, Any]) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)
        with pytest.raises(ValueError, match=r"kind|at|isoformat|JSON"):
            tx.append(number, 0, [said(), event])
    with store.read() as view:
        case = current_case(view, ME)
    assert case is not None
    assert case.events == ()


def test_a_time_without_offset_and_a_person_without_channel_are_refused(store: Store) -> None:
    with store.begin() as tx:
        with pytest.raises(ValueError, match="no offset"):
            tx.open_case(ME, "AAAA", "t", NOW.replace(tzinfo=None))
        for person in ("me", ":me", ""):
            with pytest.raises(ValueError, match="channel"):
                tx.open_case(person, "AAAA", "t", NOW)
            with pytest.raises(ValueError, match="channel"):
                current_case(tx, person)
    with store.read() as view:
        assert view.case_by_code("AAAA") is None


@ON_SQLITE
def test_forgetting_leaves_nothing_of_the_person_on_the_disk(store: Store) -> None:
    with store.begin() as tx:
        for n in range(5):
            number = tx.open_case("lines:Wilhelmina", f"MINE{n}", "t", NOW)
            tx.append(number, 0, [said(n, text="a secret hub " * 400) for n in range(5)])
        theirs = tx.open_case(YOU, "BBBB", "t", NOW)
        tx.append(theirs, 0, [said("theirs")])

    def on_disk() -> bytes:
        return b"".join(file.read_bytes() for file in sorted(store.folder.iterdir()))

    with store.read() as view:
        closed = view.connection.exec_driver_sql(
            "SELECT body FROM events JOIN cases ON cases.id = case_id WHERE code LIKE 'MINE%'"
        ).scalars()
        traces = [body[-60:].encode() for body in closed]
    assert len(traces) == 25
    assert all(trace in on_disk() for trace in traces)
    with store.begin() as tx:
        assert tx.forget("lines:Wilhelmina") == 5
        assert tx.forget("lines:Wilhelmina") == 0
    for trace in (*traces, b"a secret hub", b"Wilhelmina", b"MINE"):
        assert trace not in on_disk()
    with store.read() as view:
        assert cases_of(view, "lines:Wilhelmina") == ()
        kept = current_case(view, YOU)
    assert kept is not None
    assert kept.events == (said("theirs"),)


def test_a_forgotten_case_is_never_mistaken_for_a_later_one(store: Store) -> None:
    with store.begin() as tx:
        old = tx.open_case(ME, "AAAA", "t", NOW)
    with store.begin() as tx:
        tx.forget(ME)
    with store.begin() as tx:
        new = tx.open_case(YOU, "AAAA", "t", NOW)
        assert new != old
        with pytest.raises(StoreConflict, match="was forgotten meanwhile"):
            tx.append(old, 0, [said("meant for somebody else")])


def test_an_event_that_was_meddled_with_is_named(store: Store) -> None:
    with store.begin() as tx:
        number = tx.open_case(ME, "AAAA", "t", NOW)
        tx.append(number, 0, [said(0), said(1), said(2)])
    for meddling, words in (
        ("UPDATE events SET body = '{\"kind\"' WHERE seq = 1", "event 1 of case AAAA cannot be read"),
        ("UPDATE events SET body = '[]' WHERE seq = 1", "event 1 of case AAAA cannot be read"),
        ("DELETE FROM events WHERE seq = 1", "event 1 of case AAAA is missing"),
    ):
        with store.begin() as tx:
            tx.connection.exec_driver_sql(meddling)
        with pytest.raises(StoreError, match=words), store.read() as view:
            current_case(view, ME)


#: Any character at all, with what databases and encodings stumble over drawn more often.
anything = st.text(
    st.one_of(st.characters(codec=None), st.sampled_from("\0\ud800\udfff\\\"'%_\n\u202e\x1b")), max_size=40
)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | anything,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(anything, inner, max_size=4),
    max_leaves=12,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(person=anything, topic=anything, code=anything, when=st.datetimes(timezones=st.just(UTC)), body=json_values)
def test_whatever_somebody_typed_comes_back(
    store: Store, person: str, topic: str, code: str, when: datetime, body: Any
) -> None:
    person, event = f"lines:{person}", {"kind": "said", "at": NOW.isoformat(), "body": body}
    with store.begin() as tx:
        tx.append(tx.open_case(person, code, topic, when), 0, [event])
    with store.read() as view:
        case = view.case_by_code(code)
        assert case is not None
        assert case == current_case(view, person)
    assert (case.person, case.topic) == (person_hash(store.cipher, person), topic)
    assert (case.code, case.opened_at) == (code, when)
    assert case.events == (event,)
    with store.begin() as tx:
        assert tx.forget(person) == 1
