"""Many messages of one person at once: each has its turn, and the case is read once."""

import asyncio

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.cases import loaded
from triagebot.messages import Said
from triagebot.store import StoredCase

SAID = ("9 sprockets", "it stays still", "back", "no, 7 sprockets")


def bring_at_once(office: Office, person: str, count: int) -> None:
    async def bring() -> None:
        brought = [office.incoming(person, Said(SAID[number % len(SAID)])) for number in range(count)]
        await asyncio.gather(*map(office.delivery.receive, brought))
        await office.delivery.idle()

    office.run(bring())


@pytest.fixture
def unfolded(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The codes of the cases that were read and folded, once for each time."""
    found: list[str] = []

    def counted(stored: StoredCase) -> loaded.LoadedCase:
        found.append(stored.code)
        return unfold(stored)

    unfold = loaded.unfolded
    monkeypatch.setattr(loaded, "unfolded", counted)
    return found


def test_a_burst_folds_the_case_once(office: Office, channel: RecordedChannel, unfolded: list[str]) -> None:
    office.bring("p", "hello")
    office.delivery.memory._held.clear()
    bring_at_once(office, "p", 60)
    assert len(unfolded) == 1
    assert len(channel.screens["p"]) == 61  # and each was answered


def test_turns_in_one_transaction_fold_the_case_once(office: Office, unfolded: list[str]) -> None:
    office.bring("p", "hello")
    office.delivery.memory._held.clear()
    with office.store.begin() as tx:
        for number in range(12):
            office.delivery._inbox.accept(office.incoming("p", Said(SAID[number % len(SAID)])), tx)
        assert len(unfolded) == 1


def test_what_a_burst_remembers_is_what_is_in_the_store(office: Office) -> None:
    bring_at_once(office, "p", 23)
    remembered = office.delivery.memory._held.popitem()[1]
    assert remembered == office.held("p")


def test_a_transaction_that_is_undone_leaves_nothing_remembered(office: Office) -> None:
    office.bring("p", "hello")
    before = office.held("p")

    def half_done() -> None:
        with office.store.begin() as tx:
            office.delivery._inbox.accept(office.incoming("p", Said("9 sprockets")), tx)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half_done()
    with office.store.begin() as tx:
        assert office.delivery.memory.current(tx, tx.lookup_hash(f"{office.channel.name}:p")) == before
