"""A store with a great many cases, and how long it takes to count them: `python -m tests.bench.many_cases 100000`.

A few hundred cases are talked through, a third of them closed; their rows are copied under new numbers and codes until
there are as many as wanted. The copies were begun, told and closed before: a hundred a day, back from the originals.
"""

import argparse
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from sqlalchemy import bindparam, select, update

from tests.conversation.guides import shipped_guide
from tests.study.shelf import FOUR_NOTCH, TWELVE, closed, said
from triagebot.cases.loaded import rows_of
from triagebot.cases.summaries import refresh
from triagebot.conversation import Case, Message
from triagebot.counter.today import digest_of
from triagebot.delivery import WaitingClient
from triagebot.store import Store, Transaction, open_store
from triagebot.store.person_keys import made
from triagebot.store.staff import Tickets
from triagebot.store.tables import summaries
from triagebot.study.review import summed_up
from triagebot.study.totals import Judging, counted

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
#: Cases talked through, before they are copied.
PATTERNS = 60
#: How often each store is looked at.
ROUNDS = 15
#: A moment of a copy: so many days before that of its original.
_BEFORE = "strftime('%Y-%m-%d %H:%M:%f', {column}, '-' || (1 + c.id / 100) || ' days')"


def patterns() -> Iterator[Case]:
    for number in range(PATTERNS):
        size = f"{22 + number % 5}.{number % 10} mm by calliper"
        texts = [(*FOUR_NOTCH[:2], size, FOUR_NOTCH[3]), (*TWELVE[:2], size), ("12 splines",), ("person",)][number % 4]
        case = said(*texts, code=f"AAA-{number:03}", days=-(number % 30))
        yield closed(case, "freewheel-4-notch-24", True) if number % 3 == 0 else case


def fill(store: Store, count: int) -> None:
    """Puts `count` cases into an empty store; all of them are counted."""
    with store.begin() as tx:
        for number, case in enumerate(patterns()):
            kept = tx.open_case(f"bench:p{number}", case.code, case.topic, case.opened)
            tx.append(kept, 0, rows_of(case.events, {}))
            if case.now.outcome == "person":
                Tickets(tx).open(kept, "asked", case.touched)
        while refresh(tx, most=50):
            pass
        run = tx.connection.exec_driver_sql
        run(f"CREATE TEMP TABLE copies AS WITH RECURSIVE n(i) AS (SELECT {PATTERNS} UNION ALL SELECT i + 1 FROM n "
            f"WHERE i + 1 < {count}) SELECT i + 1 AS id, i % {PATTERNS} + 1 AS old FROM n")  # fmt: skip
        opened, touched, closed_, ticket = (
            _BEFORE.format(column=name) for name in ("o.opened_at", "s.touched_at", "s.closed_at", "t.opened_at")
        )
        run("INSERT INTO cases (id, person, code, topic, opened_at) SELECT c.id, 'p' || c.id, 'C' || c.id, o.topic, "
            f"{opened} FROM copies c JOIN cases o ON o.id = c.old")  # fmt: skip
        run("INSERT INTO parties (case_id, person, role, chosen) SELECT id, 'p' || id, 'person', 1 FROM copies")
        run("INSERT INTO events SELECT c.id, e.seq, e.body FROM copies c JOIN events e ON e.case_id = c.old")
        run(f"INSERT INTO summaries SELECT c.id, s.changed_at, {touched}, s.outcome, s.edition, {closed_}, "
            "s.fitted, s.body FROM copies c JOIN summaries s ON s.case_id = c.old")  # fmt: skip
        run("INSERT INTO tickets SELECT c.id, 'closed', t.reason, "
            f"t.holder, t.until, {ticket}, t.room FROM copies c JOIN tickets t ON t.case_id = c.old")  # fmt: skip
        run("DROP TABLE copies")
        _keys(tx, count)


def _keys(tx: Transaction, count: int) -> None:
    """Each copy gets a key of its own, with which what is counted of it is encrypted, as that of every case is."""
    body = summaries.c.body
    plain = dict(tx.connection.execute(select(summaries.c.case_id, body).where(summaries.c.case_id <= PATTERNS)).all())
    plain = {number: tx.cipher.decrypt_bytes(text) for number, text in plain.items()}
    change = update(summaries).where(summaries.c.case_id == bindparam("number")).values(body=bindparam("text"))
    for first in range(PATTERNS + 1, count + 1, 1000):
        rows = []
        for number in range(first, min(first + 1000, count + 1)):
            sealer = made(tx.cipher, tx.connection, number)
            rows.append({"number": number, "text": sealer.encrypt_bytes(plain[(number - 1) % PATTERNS + 1])})
        tx.connection.execute(change, rows)


@contextmanager
def filled(count: int) -> Iterator[Store]:
    with (
        tempfile.TemporaryDirectory() as place,
        open_store(Path(place) / "data", key_file=Path(place) / "key") as store,
    ):
        fill(store, count)
        yield store


def timed(work: Callable[[], object], times: int = 1) -> float:
    """The median of so many runs, ms of the processor."""
    took = []
    for _ in range(times):
        began = time.process_time()
        work()
        took.append((time.process_time() - began) * 1e3)
    return median(took)


class Looks:
    """What is to stay the same however many cases there are; in one store, again and again with new people."""

    def __init__(self, store: Store) -> None:
        self._store, self._guide = store, shipped_guide()
        self._client, self._number = WaitingClient(self._guide, store), iter(range(PATTERNS))

    def once(self) -> dict[str, float]:
        """How long each takes, ms."""
        new = f"bench:new{next(self._number)}"
        with self._store.begin() as tx:
            while refresh(tx, most=50):
                pass
        with self._store.read() as view:
            queue = timed(lambda: Tickets(view).queue(), 5)
            today = timed(lambda: digest_of(view, self._guide, NOW), 5)
        turn = timed(lambda: self._talk(new)) / 2
        return {"turn": turn, "queue": queue, "today": today, "start": timed(self._open), "forget": self._forget(new)}

    def _talk(self, person: str) -> None:
        self._client.hear(person, Message("9 sprockets"), "en")
        self._client.hear(person, Message("it stays still"), "en")

    def _open(self) -> None:
        with open_store(self._store.folder, key_file=self._store.folder.with_name("key")):
            pass

    def _forget(self, person: str) -> float:
        def go() -> None:
            with self._store.begin() as tx:
                assert tx.forget(person) == 1

        return timed(go)


def figures(stores: Mapping[int, Store]) -> Iterator[str]:
    """The medians of `ROUNDS` rounds; in each every store has its turn, so that other work slows all of them alike."""
    looks = {count: Looks(store) for count, store in stores.items()}
    found: dict[int, list[dict[str, float]]] = {count: [] for count in stores}
    for _ in range(ROUNDS):
        for count, look in looks.items():
            found[count].append(look.once())
    first: dict[str, float] = {}
    for count, rows in found.items():
        medians = {name: median(row[name] for row in rows) for name in rows[0]}
        first = first or medians
        told = ", ".join(f"{name} {ms:.1f} ({ms / first[name]:.2f} times)" for name, ms in medians.items())
        yield f"{count:,} cases, ms of the processor: {told}"


def report(store: Store) -> str:
    """Seconds that a report takes, of wall time and of the processor."""
    judging = Judging(shipped_guide().topic, shipped_guide().topic)
    later = NOW + timedelta(days=7)  # when nobody goes on any more
    wall, begun = time.monotonic(), time.process_time()
    summed_up(counted(store, judging, later), judging)
    return f"{time.monotonic() - wall:.1f} s ({time.process_time() - begun:.1f} s of the processor)"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="*", default=[1000, 100_000])
    with ExitStack() as stack:
        stores = {count: stack.enter_context(filled(count)) for count in parser.parse_args().count}
        for line in figures(stores):
            print(line, flush=True)
        for count, store in stores.items():
            for which in ("of which nothing is counted yet", "counted before, as `serve` does beside its work"):
                print(f"{count:,} cases {which}: a report takes {report(store)}", flush=True)


if __name__ == "__main__":
    main()
