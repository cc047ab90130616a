"""Secrets that let somebody do something for a while: found, taken once, ended, and otherwise all alike."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from threading import Barrier, Thread

import pytest

from tests.store.engines import ON_BOTH
from triagebot.store import Store
from triagebot.store.grants import BYTES, Grant, Grants
from triagebot.store.key_rotation import reencrypt_database
from triagebot.testing import START

pytestmark = ON_BOTH

DAY = timedelta(days=1)
UNTIL = START + 14 * DAY


@pytest.fixture
def case(store: Store) -> int:
    with store.begin() as tx:
        return tx.open_case("terminal:me", "K7M-4QX", "rear-sprockets", START)


@contextmanager
def grants(store: Store) -> Iterator[Grants]:
    with store.begin() as tx:
        yield Grants(tx)


def issued(store: Store, case: int | None, kind: str = "card", body: dict[str, str] | None = None) -> str:
    with grants(store) as given:
        return given.issue(kind, case, body or {}, START, UNTIL)  # type: ignore[arg-type]


def test_a_secret_finds_what_it_is_about(store: Store, case: int) -> None:
    secret = issued(store, case, body={"role": "mentor"})
    with store.read() as view:
        found = Grants(view).find("card", secret, START + DAY)
        assert found == Grant("card", case, {"role": "mentor"}, START, UNTIL)
        assert Grants(view).find("card", secret, START + DAY) == found, "looking takes nothing away"


def test_a_grant_may_be_about_no_case(store: Store) -> None:
    secret = issued(store, None, "invite")
    with store.read() as view:
        found = Grants(view).find("invite", secret, START)
    assert found is not None
    assert found.case_id is None


def test_secrets_have_192_bits_and_differ(store: Store, case: int) -> None:
    drawn = {issued(store, case) for _ in range(50)}
    assert len(drawn) == 50
    assert {len(secret) for secret in drawn} == {BYTES * 8 // 6}
    assert all(letter.isalnum() or letter in "-_" for secret in drawn for letter in secret)


def test_neither_the_secret_nor_what_it_is_about_lies_on_the_disk(store: Store, case: int, folder: Path) -> None:
    secret = issued(store, case, body={"said": "quokka"})
    store.close()
    written = b"".join(path.read_bytes() for path in folder.iterdir())
    assert secret.encode() not in written
    assert b"quokka" not in written


def test_wrong_over_ended_and_of_another_kind_are_all_nothing(store: Store, case: int) -> None:
    secret, ended = issued(store, case), issued(store, case)
    with grants(store) as given:
        assert given.end("card", ended, START)
        brought = [
            ("card", "x" * len(secret), START),
            ("card", secret[:-1], START),
            ("card", f"{secret}x", START),
            ("card", secret.swapcase(), START),
            ("card", "", START),
            ("card", "\0\ud800é" * 10_000, START),
            ("card", secret, UNTIL),
            ("card", secret, UNTIL + DAY),
            ("card", ended, START),
            ("join", secret, START),
        ]
        for kind, words, now in brought:
            assert given.find(kind, words, now) is None, words[:40]  # type: ignore[arg-type]
            assert given.take(kind, words, now) is None  # type: ignore[arg-type]
            assert not given.end(kind, words, now)  # type: ignore[arg-type]
        assert given.find("card", secret, UNTIL - timedelta(seconds=1)) is not None


def test_ending_a_grant_leaves_the_others(store: Store, case: int) -> None:
    first, second = issued(store, case), issued(store, case)
    with grants(store) as given:
        assert given.end("card", first, START)
        assert not given.end("card", first, START)
        assert given.find("card", second, START) is not None


def test_all_of_a_kind_about_a_case_can_be_ended_together(store: Store, case: int) -> None:
    with store.begin() as tx:
        other = tx.open_case("terminal:you", "9QX-7KM", "rear-sprockets", START)
    cards = [issued(store, case), issued(store, case)]
    kept = [("card", issued(store, other)), ("join", issued(store, case, "join"))]
    with grants(store) as given:
        assert given.end_all("card", case, START) == 2
        assert given.end_all("card", case, START) == 0
        assert [given.find("card", secret, START) for secret in cards] == [None, None]
        assert all(given.find(kind, secret, START) for kind, secret in kept)  # type: ignore[arg-type]


def test_what_is_taken_is_given_once(store: Store, case: int) -> None:
    secret = issued(store, case, "invite", {"as": "mentor"})
    with grants(store) as given:
        taken = given.take("invite", secret, START)
        assert taken is not None
        assert (taken.case_id, taken.body) == (case, {"as": "mentor"})
        assert given.take("invite", secret, START) is None
        assert given.find("invite", secret, START) is None


def test_of_many_who_take_it_at_once_one_is_given_it(store: Store, case: int) -> None:
    secret, together, given = issued(store, case, "join"), Barrier(8), []

    def bring() -> None:
        together.wait()
        with store.begin() as tx:
            given.append(Grants(tx).take("join", secret, START))

    people = [Thread(target=bring) for _ in range(8)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    assert sum(grant is not None for grant in given) == 1
    assert len(given) == 8


def test_what_is_undone_was_never_taken(store: Store, case: int) -> None:
    secret = issued(store, case, "join")
    taken: list[Grant | None] = []

    def take_and_fail() -> None:
        with store.begin() as tx:
            taken.append(Grants(tx).take("join", secret, START))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        take_and_fail()
    assert taken != [None]
    with grants(store) as given:
        assert given.take("join", secret, START) is not None


def test_grants_go_with_their_case(store: Store, case: int) -> None:
    secret = issued(store, case)
    with store.begin() as tx:
        tx.forget("terminal:me")
        assert Grants(tx).find("card", secret, START) is None
        assert tx.connection.exec_driver_sql("SELECT count(*) FROM grants").scalar() == 0


def test_grants_are_found_after_the_keys_were_changed(store: Store, case: int) -> None:
    secret = issued(store, case, body={"a": "b"})
    assert reencrypt_database(store) > 0
    with store.read() as view:
        assert Grants(view).find("card", secret, START) is not None
