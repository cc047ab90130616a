"""Who takes part in a case and as what: what they call it, what they put away, and whose case goes with whom."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.store.engines import ON_BOTH
from tests.store.reading import current_case
from triagebot.store import Store
from triagebot.store.parties import Parties, Party
from triagebot.testing import START

pytestmark = ON_BOTH

MO, RIA = "terminal:mo", "terminal:ria"


@contextmanager
def parties(store: Store) -> Iterator[Parties]:
    with store.begin() as tx:
        yield Parties(tx)


def opened(store: Store, code: str, person: str = MO, role: str = "mentor") -> Party:
    with store.begin() as tx:
        number = tx.open_case(person, code, "rear-sprockets", START, role)
        found = Parties(tx).of(number, tx.lookup_hash(person))
        assert found is not None
        return found


def current(store: Store, person: str = MO) -> str | None:
    with store.read() as view:
        found = current_case(view, person)
        return None if found is None else found.code


def test_what_a_case_is_called_is_kept_encrypted(store: Store) -> None:
    party = replace(opened(store, "AAA-001"), name="the blue commuter")
    with parties(store) as at:
        at.change(party)
        assert at.of(party.case, party.person) == party
        (body,) = at.connection.exec_driver_sql("SELECT body FROM parties").one()
        assert "commuter" not in body
    with parties(store) as at:
        assert at.helped(party.person) == (party,)


def test_after_a_case_is_put_away_its_mentor_is_at_the_one_before(store: Store) -> None:
    first, second = opened(store, "AAA-001"), opened(store, "AAA-002")
    assert current(store) == "AAA-002"
    with parties(store) as at:
        assert [party.code for party in at.helped(first.person)] == ["AAA-002", "AAA-001"]
        at.change(replace(second, away=True))
        assert [party.code for party in at.helped(first.person)] == ["AAA-001"]
    assert current(store) == "AAA-001"
    with parties(store) as at:
        at.join(replace(second, away=False))
    assert current(store) == "AAA-002", "until they choose it again"


def test_who_was_asked_and_leaves_is_where_they_were(store: Store) -> None:
    case = opened(store, "AAA-001")
    own = opened(store, "AAA-002", RIA, "person")
    asked = Party(case.case, case.code, own.person, "invited", until=START + timedelta(days=1))
    with parties(store) as at:
        at.join(asked)
        assert at.of(case.case, own.person) == asked
        assert {party.role for party in at.all_of(case.case)} == {"mentor", "invited"}
    assert current(store, RIA) == "AAA-001"
    with parties(store) as at:
        at.leave(asked)
        assert [party.code for party in at.parts(own.person)] == ["AAA-002"]
    assert current(store, RIA) == "AAA-002"


@pytest.mark.parametrize(
    ("role", "leaves", "left"),
    [("person", MO, True), ("invited", MO, False), ("person", RIA, False), ("invited", RIA, True)],
)
def test_whose_case_goes_with_whom(store: Store, role: str, leaves: str, left: bool) -> None:
    """One who helps takes the case along only where nobody else takes part; one who was only asked takes nothing."""
    case = opened(store, "AAA-001")
    with store.begin() as tx:
        Parties(tx).join(Party(case.case, case.code, tx.lookup_hash(RIA), role))  # type: ignore[arg-type]
        tx.forget(leaves)
    with store.read() as view:
        assert (view.case_by_code("AAA-001") is not None) is left


def test_a_case_of_which_nothing_came_goes(store: Store) -> None:
    case = opened(store, "AAA-001")
    with parties(store) as at:
        at.drop(case.case)
    assert current(store) is None
