"""Two who ask for the last place, or the only tool, in the same millisecond; two of the staff who answer at once."""

from collections.abc import Callable
from pathlib import Path
from threading import Barrier, Thread

import pytest

from tests.counter.shop import Codes
from tests.counter.visiting import visiting_guide
from tests.effort import effort
from tests.words import words_of
from triagebot.cases.loaded import Memory
from triagebot.conversation import Message
from triagebot.counter.staff_message import Counter
from triagebot.delivery.waiting_client import WaitingClient
from triagebot.messages.message import Incoming, Said
from triagebot.store import Store, open_store
from triagebot.store.requests import Requests
from triagebot.store.staff import Staff
from triagebot.testing import Clock

RACES = effort(40, 100)
NAMES = ("Ada", "Eve")


def at_once(first: Store, second: Store, do: Callable[[str, Store], None]) -> None:
    """Both do it, each with a connection of its own."""
    threads = [Thread(target=do, args=pair) for pair in zip(NAMES, (first, second), strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


@pytest.mark.parametrize(
    ("asked", "lost"),
    [
        ("can I come on thursday afternoon", "Sorry, Thursday 5 March, afternoon (15:00 to 17:00) is full."),
        ("keep me the middle four until tomorrow", "Sorry, somebody else asked for “the middle four” first"),
    ],
)
def test_of_two_who_ask_at_once_exactly_one_has_it(tmp_path: Path, asked: str, lost: str) -> None:
    clock, guide = Clock(), visiting_guide()
    folder, key = tmp_path / "data", tmp_path / "key"
    with open_store(folder, key_file=key) as first, open_store(folder, key_file=key) as second:
        start, again = Barrier(2), Barrier(2)
        heard: dict[str, list[str]] = {name: [] for name in NAMES}
        standing: list[int] = []

        def ask(name: str, store: Store) -> None:
            client = WaitingClient(guide, store, clock)
            for race in range(RACES):
                person = f"terminal:{name}{race}"
                client.hear(person, Message(asked), "en")
                start.wait()
                heard[name].append(words_of(client.hear(person, Message("yes"), "en").reply))
                again.wait()
                if name == NAMES[0]:  # and the next two begin afresh
                    with store.begin() as tx:
                        standing.append(len(Requests(tx).waiting()))
                        for request in Requests(tx).waiting():
                            Requests(tx).over(request.case, request.kind)
                start.wait()

        at_once(first, second, ask)
    assert standing == [1] * RACES
    for both in zip(heard["Ada"], heard["Eve"], strict=True):
        assert sum(told.startswith("I’ve asked them.") for told in both) == 1
        assert sum(told.startswith(lost) for told in both) == 1


def test_of_two_who_answer_at_once_exactly_one_does(tmp_path: Path) -> None:
    clock, guide = Clock(), visiting_guide()
    folder, key = tmp_path / "data", tmp_path / "key"
    with open_store(folder, key_file=key) as first, open_store(folder, key_file=key) as second:
        customers = WaitingClient(guide, first, clock, Codes())
        codes = []
        for race in range(RACES):
            customers.hear(f"terminal:{race}", Message("can I come on thursday afternoon"), "en")
            codes.append(customers.hear(f"terminal:{race}", Message("yes"), "en").case.code)  # type: ignore[union-attr]
            with first.begin() as tx:
                stored = tx.case_by_code(codes[-1])
                assert stored is not None
                if not Requests(tx).of(stored.id, "asked"):  # the place is taken: it is asked for all the same
                    Requests(tx).ask_visit(
                        stored.id, f"day {race}", "afternoon", 1, "2026-03-05 afternoon -", "", clock()
                    )
        with first.begin() as tx:
            for name in NAMES:
                Staff(tx).admit(tx.lookup_hash(f"page:{name}"), "staff", name, clock())
        start = Barrier(2)
        heard: dict[str, list[str]] = {name: [] for name in NAMES}

        def answer(name: str, store: Store) -> None:
            counter = Counter(guide, clock, Memory())
            for code in codes:
                incoming = Incoming("page", code, name, {}, Said(f"{'yes' if name == 'Ada' else 'no'} {code}"), clock())
                start.wait()
                with store.begin() as tx:
                    attended = counter.attend(tx, tx.lookup_hash(f"page:{name}"), incoming, incoming.content)
                assert attended is not None
                assert attended.reply is not None
                heard[name].append(words_of(attended.reply))

        at_once(first, second, answer)
        with first.read() as view:
            deeds = [
                [deed.name for deed in Staff(view).deeds(stored.id)]
                for code in codes
                if (stored := view.case_by_code(code)) is not None
            ]
    won = [("Ada" if "agreed" in ada else "Eve", ada, eve) for ada, eve in zip(heard["Ada"], heard["Eve"], strict=True)]
    assert deeds == [[winner] for winner, _, _ in won]
    for _, *both in won:
        assert sum("has had an answer already" in told for told in both) == 1
