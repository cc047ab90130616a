"""Two of the staff who claim a case in the same millisecond: one has it, the other hears who."""

from pathlib import Path
from threading import Barrier, Thread

import pytest

from tests.conversation.guides import shipped_guide
from tests.counter.shop import Codes
from tests.effort import effort
from tests.store.engines import ON_BOTH
from tests.words import words_of
from triagebot.cases.loaded import Memory
from triagebot.conversation import Message
from triagebot.counter.staff_message import Counter
from triagebot.delivery.waiting_client import WaitingClient
from triagebot.messages.message import Incoming, Said
from triagebot.store import Store, open_store
from triagebot.store.staff import Staff, Tickets
from triagebot.testing import Clock

pytestmark = ON_BOTH

RACES = effort(40, 100)
NAMES = ("Ada", "Eve")


@pytest.mark.parametrize("says", ["claim {code}", "claim next"])
def test_of_two_who_claim_at_once_exactly_one_has_it(tmp_path: Path, says: str) -> None:
    """Again and again, each member at a delivery of their own with a connection of its own."""
    clock, guide = Clock(), shipped_guide()
    folder, key = tmp_path / "data", tmp_path / "key"
    with open_store(folder, key_file=key) as first, open_store(folder, key_file=key) as second:
        codes = _people_who_wait(first, clock)
        with first.begin() as tx:
            for name in NAMES:
                Staff(tx).admit(tx.lookup_hash(f"page:{name}"), "staff", name, clock())
        start = Barrier(2)
        heard: dict[str, list[str]] = {name: [] for name in NAMES}

        def claim(name: str, store: Store) -> None:
            counter = Counter(guide, clock, Memory())
            for code in codes:
                incoming = Incoming("page", code, name, {}, Said(says.format(code=code)), clock())
                start.wait()
                with store.begin() as tx:
                    attended = counter.attend(tx, tx.lookup_hash(f"page:{name}"), incoming, incoming.content)
                assert attended is not None
                assert attended.reply is not None
                heard[name].append(words_of(attended.reply))

        threads = [Thread(target=claim, args=pair) for pair in zip(NAMES, (first, second), strict=True)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        with first.read() as view:
            holders = [view.case_by_code(code) for code in codes]
            held = [Tickets(view).of(stored.id) for stored in holders if stored is not None]
            marks = {view.lookup_hash(f"page:{name}"): name for name in NAMES}
            claimed = [deed.name for s in holders if s is not None for deed in Staff(view).deeds(s.id)]
    if says == "claim next":
        _each_got_others(codes, heard)
        return
    won = [marks[ticket.holder] for ticket in held if ticket is not None and ticket.holder is not None]
    assert len(won) == RACES
    assert claimed == won, "one deed a case, and that of the person who has it"
    for code, winner, *both in zip(codes, won, heard["Ada"], heard["Eve"], strict=True):
        loser = next(name for name in NAMES if name != winner)
        assert dict(zip(NAMES, both, strict=True)) == {winner: f"{code} is yours.", loser: f"{winner} has {code}."}


def _each_got_others(codes: list[str], heard: dict[str, list[str]]) -> None:
    """All are claimed, each by one of the two."""
    got = [told.split()[0] for name in NAMES for told in heard[name] if told.endswith(" is yours.")]
    assert sorted(got) == sorted(codes)
    assert sum(told == "Nobody is waiting." for name in NAMES for told in heard[name]) == RACES


def _people_who_wait(store: Store, clock: Clock) -> list[str]:
    waiting_client = WaitingClient(shipped_guide(), store, clock, Codes())
    return [waiting_client.hear(f"terminal:{n}", Message("person"), "en").case.code for n in range(RACES)]
