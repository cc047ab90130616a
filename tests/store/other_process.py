"""What the tests of the store run in processes of their own: `python other_process.py NAME ARGUMENTS…`.

Each prints JSON lines. Killing and forking is done from here and not from the tests' process, which has threads.
"""

import json
import os
import random
import resource
import select
import signal
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.store.reading import current_case
from triagebot.errors import StoreError
from triagebot.store import StoreConflict, open_store
from triagebot.store.key_file import default_key_file, read_or_make_keys

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
PERSON = "terminal:me"
OTHER_USER = 65534
#: Seconds for which a process here waits for others that write, however busy the machine is.
PATIENT = 120.0


def event(n: int, who: str = "") -> dict[str, Any]:
    return {"kind": "said", "at": NOW.isoformat(), "n": n, "who": who}


def tell(**what: Any) -> None:
    print(json.dumps(what), flush=True)


def wait_for_the_others() -> None:
    tell(ready=True)
    sys.stdin.readline()


def append_until_killed(folder: Path, confirmed: int) -> None:
    """Appends one event after another, and writes a byte for each that the store has confirmed."""
    with open_store(folder) as store:
        while True:
            with store.begin() as tx:
                case = current_case(tx, PERSON)
                assert case is not None
                tx.append(case.id, len(case.events), [event(len(case.events))])
            os.write(confirmed, b".")


def kills(folder: str, times: str, seed: str) -> None:
    """Kills an appending process again and again, and looks each time at what is there."""
    draw = random.Random(int(seed))
    place = Path(folder)
    with open_store(place) as store, store.begin() as tx:
        tx.open_case(PERSON, "ABCD", "topic", NOW)
    before = 0
    for _ in range(int(times)):
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.close(reading)
            append_until_killed(place, writing)
        os.close(writing)
        assert select.select([reading], [], [], 60)[0], "nothing was confirmed for a minute"
        time.sleep(draw.uniform(0, 0.03))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        confirmed = 0
        while chunk := os.read(reading, 65536):
            confirmed += len(chunk)
        os.close(reading)
        with open_store(place) as store, store.read() as view:
            case = current_case(view, PERSON)
        assert case is not None
        numbers = [e["n"] for e in case.events]
        tell(confirmed=confirmed, held=len(numbers) - before, whole=numbers == list(range(len(numbers))))
        before = len(numbers)


def kills_while_opening(folder: str, times: str, seed: str) -> None:
    """Kills a process while it makes a new database, and looks each time whether the next one gets on."""

    draw = random.Random(int(seed))
    for n in range(int(times)):
        place = Path(folder) / str(n)
        child = os.fork()
        if not child:
            with open_store(place):
                signal.pause()
        time.sleep(draw.uniform(0, 0.06))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        left = sorted(path.name for path in place.iterdir()) if place.exists() else []
        with open_store(place) as store, store.begin() as tx:
            tell(left=left, case=tx.open_case(PERSON, "ABCD", "topic", NOW))


def moving(folder: str, url: str, way: str, at: str) -> None:
    """Moves a store and is killed when it has been told so often how far it is."""
    from triagebot.store.moving import to_postgresql, to_sqlite

    left = int(at)

    def told(stage: str, table: str, count: int) -> None:
        nonlocal left
        left -= 1
        if not left:
            os.kill(os.getpid(), signal.SIGKILL)

    if way == "there":
        to_postgresql(Path(folder), url, told, NOW)
    else:
        to_sqlite(Path(folder), url, told)


def appending(folder: str, who: str, times: str) -> None:
    """Appends to one shared case, reading it outside the transaction, so that others may well be quicker."""
    conflicts = 0
    with open_store(Path(folder), PATIENT) as store:
        wait_for_the_others()
        for n in range(int(times)):
            time.sleep(0.001)  # who waits for the lock looks only now and then: leave it free for a moment
            while True:
                with store.read() as view:
                    case = current_case(view, PERSON)
                assert case is not None
                try:
                    with store.begin() as tx:
                        tx.append(case.id, len(case.events), [event(n, who)])
                    break
                except StoreConflict:
                    conflicts += 1
    tell(conflicts=conflicts)


def starting(folder: str) -> None:
    """Opens the folder at the same moment as others, and writes a case."""
    # loaded before the race begins

    wait_for_the_others()
    with open_store(Path(folder), PATIENT) as store, store.begin() as tx:
        tell(case=tx.open_case(PERSON, f"P{os.getpid()}", "topic", NOW))


def opening(folder: str) -> None:
    """Opens the folder as a user who has no special rights, and says what came of it."""
    with tempfile.TemporaryDirectory() as warm, open_store(Path(warm)) as store, store.begin() as tx:
        current_case(tx, PERSON)
    if os.geteuid() == 0:
        os.setgid(OTHER_USER)
        os.setuid(OTHER_USER)
    try:
        with open_store(Path(folder)) as store, store.begin() as tx:
            current_case(tx, PERSON)
    except StoreError as error:
        tell(error=str(error))
    else:
        tell(error=None)


def filling(folder: str, limit: str) -> None:
    """Appends until the disk, or a limit on the size of files (bytes, 0 for none), refuses."""
    read_or_make_keys(default_key_file(), Path(folder))  # the key lies on another disk
    if int(limit):
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    confirmed = 0
    try:
        with open_store(Path(folder)) as store:
            with store.begin() as tx:
                number = tx.open_case(PERSON, "ABCD", "topic", NOW)
            for n in range(10_000):
                with store.begin() as tx:
                    tx.append(number, n, [event(n, "x" * 2000)])
                confirmed += 1
    except StoreError as error:
        tell(error=str(error), confirmed=confirmed)
    try:
        with open_store(Path(folder)) as store, store.read() as view:
            case = current_case(view, PERSON)
            tell(held=len(case.events) if case else 0)
    except StoreError as error:
        tell(error=str(error))


def locking(folder: str, stopped: str = "") -> None:
    """Holds the write lock until its input ends. PostgreSQL ends a transaction that does nothing for `stopped`
    seconds."""
    if stopped:
        from triagebot.store.engines import postgresql

        postgresql.STOPPED = int(stopped)
    with open_store(Path(folder)) as store, store.begin():
        tell(locked=True)
        sys.stdin.read()


def loaded(folder: str) -> None:
    """Says which heavy libraries importing and opening have loaded."""
    heavy = ("sqlalchemy", "alembic")
    imported = [name for name in heavy if name in sys.modules]
    with open_store(Path(folder)) as store, store.read() as view:
        current_case(view, PERSON)
    tell(imported=imported, opened=[name for name in heavy if name in sys.modules])


if __name__ == "__main__":
    if "TESTS_POSTGRESQL" in os.environ:  # what it needs takes a while to load, and is loaded only then
        from tests.store.cluster import use_cluster

        use_cluster()
    parts = (kills, kills_while_opening, appending, starting, opening, filling, locking, loaded, moving)
    {part.__name__: part for part in parts}[sys.argv[1]](*sys.argv[2:])
