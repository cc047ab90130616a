"""Turns on PostgreSQL are taken beside those of other processes, unless they touch more than their own conversation."""

import asyncio
from collections.abc import Iterator

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.messages import Said
from triagebot.store import Store, open_store
from triagebot.store.beside import begin_beside
from triagebot.store.staff import Tickets

pytestmark = pytest.mark.parametrize("engine", ["postgresql"], indirect=True)


@pytest.fixture(autouse=True)
def _there(engine: str) -> None:
    """The store is there."""


@pytest.fixture
def other(office: Office) -> Iterator[Store]:
    """Another process on the same database."""
    with open_store(office.folder, key_file=office.folder.with_name("key")) as store:
        yield store


def test_a_conversation_goes_on_beside_others(office: Office, other: Store, channel: RecordedChannel) -> None:
    """Its first message too; what goes out is sent."""
    with begin_beside(other):
        for text in ("9 sprockets", "it stays still", "4 notches", "why"):
            assert office.bring("ada", text).outcome == "applied"
    assert len(channel.texts("ada")) == 4


def test_nobody_else_waits_for_a_conversation_that_is_held(office: Office, other: Store) -> None:
    with begin_beside(other) as tx:
        tx.hold(tx.lookup_hash("recorded:ada"), wait=True)
        assert office.bring("ben", "9 sprockets").outcome == "applied"


def test_what_touches_more_is_taken_alone_in_its_place(office: Office, channel: RecordedChannel) -> None:
    """A person is asked for, which opens a ticket; what comes behind it waits."""
    for person in ("ada", "ben"):
        office.bring(person, "9 sprockets")
    commits = office.delivery._writer.commits

    async def at_once() -> None:
        said = (("ada", "it stays still"), ("ben", "person"), ("ada", "why"), ("ben", "thanks"))
        all_of_it = [office.incoming(person, Said(text)) for person, text in said]
        await asyncio.gather(*(office.delivery.receive(each) for each in all_of_it))
        await office.delivery.idle()

    office.run(at_once())
    assert office.delivery._writer.commits > commits
    with office.store.store.read() as view:
        assert Tickets(view).waiting() == 1
    assert [state for (state,) in office.rows("inbox", "state")] == ["done"] * 6
    numbers = [number for number, _ in office.rows("inbox", "id, conversation")]
    assert numbers == sorted(numbers)
    assert channel.texts("ada")[-1] != channel.texts("ada")[-2]
