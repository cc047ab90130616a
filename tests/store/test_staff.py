"""Who is staff, their tickets and their deeds, as the store keeps them."""

import threading
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.engines import ON_BOTH
from triagebot.store import Store
from triagebot.store.staff import Staff, Tickets
from triagebot.testing import START

pytestmark = ON_BOTH

ME = "terminal:me"


@pytest.fixture
def case(store: Store) -> int:
    with store.begin() as tx:
        return tx.open_case(ME, "K7M-4QX", "rear-sprockets", START)


def test_names_and_what_is_told_are_encrypted(store: Store, case: int, folder: Path) -> None:
    with store.begin() as tx:
        member = Staff(tx).admit("mark", "staff", "Quokka", START)
        Staff(tx).stand(member, {"line": "wombat"})
        Staff(tx).did(member, "said", START, case, text="numbat")
    held = b"".join(path.read_bytes() for path in folder.iterdir() if path.is_file())
    for word in (b"Quokka", b"wombat", b"numbat"):
        assert word not in held


def test_a_standing_is_kept_with_the_name(store: Store) -> None:
    with store.begin() as tx:
        Staff(tx).stand(Staff(tx).admit("mark", "owner", "Ada", START), {"trying": True})
    with store.read() as view:
        member = Staff(view).member("mark")
    assert member is not None
    assert (member.name, member.role, member.standing) == ("Ada", "owner", {"trying": True})


def test_who_left_is_nobody_and_may_come_back(store: Store) -> None:
    with store.begin() as tx:
        staff = Staff(tx)
        staff.admit("mark", "owner", "Ada", START)
        assert staff.remove("mark", START)
        assert not staff.remove("mark", START)
        assert staff.member("mark") is None
        assert staff.members() == ()
        assert staff.named("ada") is None
        assert staff.admit("mark", "staff", "Ada", START).role == "staff"


def test_deeds_outlive_a_members_time_on_the_staff_but_not_their_case(store: Store, case: int) -> None:
    with store.begin() as tx:
        staff = Staff(tx)
        member = staff.admit("mark", "staff", "Ada", START)
        staff.did(member, "claimed", START, case)
        staff.did(member, "joined", START)
        staff.remove("mark", START)
        assert [(deed.name, deed.what) for deed in staff.deeds(case)] == [("Ada", "claimed")]
    with store.begin() as tx:
        tx.forget(ME)
    with store.read() as view:
        assert Staff(view).deeds(case) == ()
        assert Tickets(view).of(case) is None
        rows = view.connection.exec_driver_sql("SELECT what FROM deeds").all()
    assert [tuple(row) for row in rows] == [("joined",)]


def test_nothing_changes_or_deletes_a_deed() -> None:
    offers = {name for name in dir(Staff) if not name.startswith("_")}
    assert offers == {"member", "members", "named", "admit", "remove", "stand", "did", "deeds", "closings"}


STEPS = st.lists(
    st.tuples(st.sampled_from(["open", "claim", "release", "snooze", "wake", "close", "leave"]), st.sampled_from("ab")),
    max_size=12,
)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None, max_examples=60
)
@given(STEPS)
def test_a_ticket_is_always_in_one_of_its_states(store: Store, steps: list[tuple[str, str]]) -> None:
    """A person who waits has no holder; whatever sleeps or was claimed has one; whatever sleeps has a moment."""
    with store.begin() as tx:
        code = (
            "".join(str(n) for n in range(3))
            + "-"
            + str(tx.connection.exec_driver_sql("SELECT count(*) FROM cases").scalar())
        )
        number = tx.open_case(ME, code, "rear-sprockets", START)
        tickets = Tickets(tx)
        for step, who in steps:
            match step:
                case "open":
                    tickets.open(number, "asked", START)
                case "claim":
                    before = tickets.of(number)
                    assert tickets.claim(number, who) == (before is not None and before.state == "waiting")
                case "release":
                    tickets.release(number)
                case "snooze":
                    tickets.snooze(number, who, START + timedelta(hours=1))
                case "wake":
                    tickets.wake(number)
                case "close":
                    tickets.close(number)
                case "leave":
                    tickets.release_all(who)
            ticket = tickets.of(number)
            assert ticket is None or step != "leave" or not ticket.open or ticket.holder != who
            if ticket is not None and ticket.open:
                assert (ticket.holder is None) == (ticket.state == "waiting")
                assert (ticket.until is None) == (ticket.state != "snoozed")


def test_of_many_who_claim_at_once_one_has_it(store: Store, case: int) -> None:
    with store.begin() as tx:
        Tickets(tx).open(case, "asked", START)
    won: list[int] = []
    barrier = threading.Barrier(8)

    def claim(number: int) -> None:
        barrier.wait()
        with store.begin() as tx:
            if Tickets(tx).claim(case, f"mark {number}"):
                won.append(number)

    threads = [threading.Thread(target=claim, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(won) == 1


def test_the_next_to_wake_is_told(store: Store, case: int) -> None:
    with store.begin() as tx:
        tickets = Tickets(tx)
        tickets.open(case, "asked", START)
        assert tickets.next_due() is None
        tickets.snooze(case, "a", START + timedelta(hours=1))
        assert tickets.next_due() == START + timedelta(hours=1)
        assert tickets.due(START) == ()
        assert [ticket.case for ticket in tickets.due(START + timedelta(hours=1))] == [case]
