"""Feeds every parser that meets the outside with what nobody would write.

    python -m tests.fuzz [--minutes N | --inputs N] [--seed N] [PARSER…]

Prints for each parser how many inputs it took, and its slowest one in processor time (of three tries, the fastest).
Exit status: 1 where one raised what it should not, or where one that anybody may send to took longer than MOST ms.
"""

import argparse
import sys
import time
import traceback
from dataclasses import dataclass

from tests.fuzz.mutating import inputs
from tests.fuzz.parsers import BOUNDED, NAMES, Parser, parsers, seeds

#: Milliseconds of the processor.
MOST = 50.0
#: So many different faults are printed of one parser.
FAULTS = 5


@dataclass
class Found:
    """Of one parser: how many inputs it took, the slowest (ms) and its first bytes, and the faults by their place."""

    name: str
    count: int = 0
    slowest: float = 0.0
    which: bytes = b""
    faults: dict[str, tuple[bytes, str]] | None = None

    @property
    def bad(self) -> bool:
        return bool(self.faults) or (self.name in BOUNDED and self.slowest > MOST)

    def __str__(self) -> str:
        head = f"{self.name:<9} {self.count:>8} inputs, slowest {self.slowest:7.1f} ms: {self.which[:60]!r}"
        told = [f"  {place}\n  of {data[:200]!r}\n{trace}" for place, (data, trace) in (self.faults or {}).items()]
        return "\n".join([head, *told])


def fuzz(
    name: str, parser: Parser, most: int, seed: int, seconds: float | None = None, *, tries: int = 3
) -> Found:  # fmt: skip
    """So many inputs, or as many as there are seconds for. What is slow is tried so often."""
    found, end = Found(name, faults={}), None if seconds is None else time.monotonic() + seconds
    for data in inputs(seeds(name), seed):
        if found.count >= most or (end is not None and time.monotonic() > end):
            break
        found.count += 1
        took = _took(found, parser, data)
        if took > found.slowest and took > 1.0:
            took = min(took, *(_took(found, parser, data) for _ in range(tries - 1)), took)
        if took > found.slowest:
            found.slowest, found.which = took, data
    return found


def _took(found: Found, parser: Parser, data: bytes) -> float:
    """Milliseconds of the processor."""
    begun = time.thread_time()
    try:
        parser(data)
    except Exception as error:
        frame = traceback.extract_tb(error.__traceback__)[-1]
        place = f"{type(error).__name__} at {frame.filename}:{frame.lineno}"
        if found.faults is not None and len(found.faults) < FAULTS:
            found.faults.setdefault(place, (data, traceback.format_exc(limit=-6)))
    return (time.thread_time() - begun) * 1000


def main(arguments: list[str]) -> int:
    reader = argparse.ArgumentParser(prog="python -m tests.fuzz")
    reader.add_argument("parsers", nargs="*", metavar="PARSER", help=", ".join(NAMES))
    reader.add_argument("--inputs", type=int, default=10_000, help="for each parser (10000)")
    reader.add_argument("--minutes", type=float, help="in place of a number of inputs: for all parsers together")
    reader.add_argument("--seed", type=int, default=1)
    given = reader.parse_args(arguments)
    if unknown := set(given.parsers) - set(NAMES):
        reader.error(f"no parser {', '.join(unknown)}")
    names = given.parsers or list(NAMES)
    seconds = None if given.minutes is None else given.minutes * 60 / len(names)
    most = given.inputs if seconds is None else sys.maxsize
    all_found = []
    with parsers() as known:
        for name in names:
            all_found.append(fuzz(name, known[name], most, given.seed, seconds))
            print(all_found[-1], flush=True)
    print(f"{sum(found.count for found in all_found)} inputs in all, seed {given.seed}")
    return int(any(found.bad for found in all_found))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
