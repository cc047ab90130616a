"""How many small faults the tests of a room notice: `python -m tests.mutation [ROOM…] [--sample N] [--seed S]`.

Works on copies of the checkout, in a temporary folder. Prints every mutant that survived, with its place and what was
changed, and for each room the share that was killed with its 95 % interval (Wilson). Some survivors change nothing
that anybody could notice; they count as survivors all the same.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from scipy.stats import binomtest

from tests.mutation.mutants import Mutant, draw

ROOT = Path(__file__).resolve().parents[2]
#: Which tests are a room's own; `tests/ROOM` for any other.
TESTS = {"conversation": ("tests/conversation", "tests/conversations")}
ROOMS = ("identify", "conversation", "delivery", "counter")


def copied(into: Path) -> Path:
    """The checkout as it is now, without what is made from it."""
    left_out = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".hypothesis", ".*_cache")
    return Path(shutil.copytree(ROOT, into, ignore=left_out))


def worker(copy: Path, *arguments: str, **options: Any) -> subprocess.Popen[str]:
    surroundings = {name: value for name, value in os.environ.items() if not name.startswith("TRIAGEBOT_")}
    surroundings |= {"PYTHONPATH": str(copy), "HYPOTHESIS_PROFILE": "ci"}
    command = [sys.executable, "-m", "tests.mutation.worker", *arguments]
    return subprocess.Popen(command, cwd=copy, env=surroundings, text=True, **options)


def recorded(copy: Path, room: str, into: Path) -> dict[str, Any]:
    """What the room's tests run, by a first run of them all."""
    log = into.with_suffix(".log")
    with log.open("w") as out:
        process = worker(copy, "record", str(into), room, *TESTS.get(room, (f"tests/{room}",)), stdout=out, stderr=out)
        process.wait()
    if not into.exists():
        raise SystemExit(log.read_text()[-2000:])
    seen: dict[str, Any] = json.loads(into.read_text(encoding="utf-8"))
    return seen


def met(copy: Path, seen: Path, mutants: Sequence[tuple[int, Mutant]]) -> Iterator[dict[str, Any]]:
    """How it went with each of these mutants, one after the other."""
    with worker(copy, "meet", str(seen), stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for number, mutant in mutants:
            row = {"number": number, "file": mutant.file, "line": mutant.line, "source": mutant.source}
            process.stdin.write(json.dumps(row) + "\n")
        process.stdin.close()
        yield from map(json.loads, process.stdout)
    if process.returncode:
        raise SystemExit(f"the tests could not be run on mutants in {copy}")


def score(room: str, killed: int, met: int) -> str:
    """The share killed, and what it may be of all mutants of the room."""
    low, high = binomtest(killed, met).proportion_ci(method="wilson")
    return f"{room}: {killed} of {met} killed, {killed / met:.1%} (95 % interval {low:.1%} to {high:.1%})"


def run(room: str, sample: int, seed: int, jobs: int, folder: Path) -> str:
    """Draw, meet, print the survivors; gives the score."""
    mutants = list(enumerate(draw(ROOT, f"triagebot/{room}", sample, seed)))
    copies = [copied(folder / f"{room}-{number}") for number in range(jobs)]
    seen = recorded(copies[0], room, folder / f"{room}.json")
    print(f"{room}: {len(mutants)} mutants, {len(seen['seconds'])} tests", flush=True)
    for test in seen["failed"]:
        print(f"left out, since it fails without any mutant: {test}", flush=True)
    found: list[bool] = []

    def share(number: int) -> None:
        for row in met(copies[number], folder / f"{room}.json", mutants[number::jobs]):
            mutant = mutants[row["number"]][1]
            found.append(row["survived"])
            if row["survived"]:
                print(f"\nsurvived {row['tests']} tests: {mutant.file}:{mutant.line}\n{mutant.diff}", flush=True)
            print(f"{room}: {found.count(False)} of {len(found)} so far", file=sys.stderr, flush=True)

    with ThreadPoolExecutor(jobs) as pool:
        list(pool.map(share, range(jobs)))
    return score(room, found.count(False), len(found))


def main() -> None:
    reader = argparse.ArgumentParser(prog="python -m tests.mutation", description=(__doc__ or "").split("\n\n")[0])
    reader.add_argument("rooms", nargs="*", metavar="ROOM", help=f"folders of triagebot/ (default: {' '.join(ROOMS)})")
    reader.add_argument("--sample", type=int, default=60, help="mutants a room (default: 60)")
    reader.add_argument("--seed", type=int, default=1, help="another seed draws others (default: 1)")
    reader.add_argument("--jobs", type=int, default=2, help="mutants tried side by side (default: 2)")
    given = reader.parse_args()
    for room in given.rooms:
        if not (ROOT / "triagebot" / room).is_dir() or not (ROOT / "tests" / room).is_dir():
            reader.error(f"there is no room {room!r} with tests of its own")
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        scores = [run(room, given.sample, given.seed, given.jobs, Path(folder)) for room in given.rooms or ROOMS]
    print("", *scores, sep="\n")


if __name__ == "__main__":
    main()
