"""Runs a room's tests in a copy of the checkout: once to see which test runs which line, then once a mutant.

Rules of this file:
- Each run is a fork of a process that has loaded every library but nothing of the project, so it starts at once and
  reads the source as it is then.
- A mutant meets first the tests that run its line, then the others that enter its file, the quickest first, and the
  first failure ends it. (What is worked out once and remembered runs its lines in one test only, hence the others.)
  What runs when a file is imported meets all tests of the room.
- A run may take several times what the same tests took before, in processor time: a busy machine kills no mutant. What
  waits for ever uses none, so there is a limit of time as well, a far wider one.
"""

import importlib
import json
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Generator, Iterable, Sequence
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path
from typing import Any

import coverage
import pytest

ARGUMENTS = ("-q", "--assert=plain", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not slow and not campaign")
OWN = ("triagebot", "tests", "conftest", "__main__")
#: Limits of a run, as a multiple of what its tests took when they were recorded, and what is added to that, in seconds.
PROCESSOR, CLOCK, GRACE = 3, 20, 60


class Recorder:
    """Which test runs which lines of the room, how long it takes, and what else it loads."""

    def __init__(self, room: str) -> None:
        self.coverage = coverage.Coverage(data_file=None, config_file=False, source=[f"triagebot/{room}"])
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        self.coverage.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, Any, Any]:
        self.coverage.switch_context(item.nodeid)
        began = time.perf_counter()
        result = yield
        self.seconds[item.nodeid] = time.perf_counter() - began
        self.coverage.switch_context("")
        return result

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)

    def written(self) -> dict[str, Any]:
        self.coverage.stop()
        data = self.coverage.get_data()
        lines = {
            str(Path(file).relative_to(Path.cwd())): data.contexts_by_lineno(file) for file in data.measured_files()
        }
        libraries = [name for name in sys.modules if name.split(".")[0] not in OWN]
        return {
            "seconds": {test: took for test, took in self.seconds.items() if test not in self.failed},
            "failed": sorted(self.failed),
            "lines": lines,
            "processor": time.process_time(),
            "clock": sum(self.seconds.values()),
            "libraries": libraries,
        }


class Selection:
    """Only these tests, in this order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.place = {test: place for place, test in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted((i for i in items if i.nodeid in self.place), key=lambda i: self.place[i.nodeid])


def forked(work: Callable[[], int], processor: float, clock: float) -> int | None:
    """What `work` gives in a process of its own, in silence; None if it was ended by a limit (seconds)."""
    child = os.fork()
    if child == 0:
        os.setsid()
        sys.dont_write_bytecode = True
        resource.setrlimit(resource.RLIMIT_CPU, (int(processor), int(processor) + 5))
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        try:
            os._exit(work())
        finally:
            os._exit(3)
    ends = time.monotonic() + clock
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            break
        if time.monotonic() > ends:
            with suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None
        time.sleep(0.02)
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # what the tests left running
    return os.waitstatus_to_exitcode(status) if os.WIFEXITED(status) else None


def record(room: str, folders: Sequence[str], into: Path) -> None:
    """Run all tests of a room, and write down what was seen."""
    recorder = Recorder(room)
    pytest.main([*ARGUMENTS, *folders], plugins=[recorder])
    into.write_text(json.dumps(recorder.written()), encoding="utf-8")


def chosen(seen: dict[str, Any], file: str, line: int) -> list[str]:
    """The tests that a mutant meets, in order."""
    lines: dict[str, list[str]] = seen["lines"].get(file, {})
    near = set(lines.get(str(line), ()))
    far = set(seen["seconds"]) if "" in near else {test for tests in lines.values() for test in tests}

    def quickest(tests: Iterable[str]) -> list[str]:
        return sorted((t for t in tests if t in seen["seconds"]), key=lambda t: (seen["seconds"][t], t))

    return quickest(near) + quickest(far - near)


def survives(seen: dict[str, Any], tests: Sequence[str]) -> bool:
    """Whether all these tests pass with the source as it lies there now."""
    files = sorted({test.split("::")[0] for test in tests})
    took = sum(seen["seconds"][test] for test in tests)
    status = forked(
        lambda: int(pytest.main([*ARGUMENTS, "-x", *files], plugins=[Selection(tests)])),
        processor=PROCESSOR * min(took, seen["processor"]) + GRACE,
        clock=CLOCK * took + GRACE,
    )
    if status == pytest.ExitCode.NO_TESTS_COLLECTED:
        raise RuntimeError(f"none of {len(tests)} tests was found again in {', '.join(files)}")
    return status == 0


def meet(seen: dict[str, Any], mutants: Iterable[dict[str, Any]]) -> None:
    """Put each mutant into the copy, run its tests, and print one line of JSON about it."""
    for name in seen["libraries"]:
        with suppress(Exception):
            importlib.import_module(name)
    everything = sorted(seen["seconds"], key=lambda test: (seen["seconds"][test], test))
    if not survives(seen, everything):
        raise RuntimeError("the tests fail without any mutant when the quickest comes first")
    for mutant in mutants:
        path = Path(mutant["file"])
        tests = chosen(seen, mutant["file"], mutant["line"])
        kept = path.read_bytes()
        Path(cache_from_source(str(path))).unlink(missing_ok=True)
        path.write_text(mutant["source"], encoding="utf-8")
        try:
            survived = survives(seen, tests) if tests else True
        finally:
            path.write_bytes(kept)
        print(json.dumps({"number": mutant["number"], "survived": survived, "tests": len(tests)}), flush=True)


if __name__ == "__main__":
    task, place, *rest = sys.argv[1:]
    if task == "record":
        record(rest[0], rest[1:], Path(place))
    else:
        meet(json.loads(Path(place).read_text(encoding="utf-8")), map(json.loads, sys.stdin))
