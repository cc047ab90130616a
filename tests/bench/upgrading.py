"""How long a change of the tables takes on a large store, of so many events: `python -m tests.bench.upgrading 1000000`.

The store is filled (`many_cases`) and put back to the revision before people had keys and cases were counted; then it
is opened, which brings it up to date in one transaction.
"""

import argparse
import tempfile
import time
from pathlib import Path

from tests.bench.many_cases import fill
from triagebot.store import DATABASE, Store, open_store
from triagebot.store.migrations import NEWEST

BEFORE = "0009"
#: Events of one case of `many_cases`, about.
_A_CASE = 5


def put_back(store: Store) -> None:
    with store.begin() as tx:
        run = tx.connection.exec_driver_sql
        for table in ("keys", "forgotten_keys", "summaries", "totals"):
            run(f"DROP TABLE {table}")
        for index in ("ix_cases_topic_opened_at", "ix_tickets_room", "ix_grants_kind"):
            run(f"DROP INDEX {index}")
        run(f"UPDATE alembic_version SET version_num = '{BEFORE}'")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("events", type=int, nargs="?", default=1_000_000)
    with tempfile.TemporaryDirectory() as place:
        data, key = Path(place) / "data", Path(place) / "key"
        with open_store(data, key_file=key) as store:
            fill(store, parser.parse_args().events // _A_CASE)
            with store.read() as view:
                events = view.connection.exec_driver_sql("SELECT count(*) FROM events").scalar()
            size = (data / DATABASE).stat().st_size / 1e6
            put_back(store)
        began, used = time.perf_counter(), time.process_time()
        with open_store(data, key_file=key):
            took = time.perf_counter() - began
        print(
            f"{events:,} events, {size:.0f} MB: from {BEFORE} to {NEWEST} in {took:.1f} s "
            f"({time.process_time() - used:.1f} s of the processor)"
        )


if __name__ == "__main__":
    main()
