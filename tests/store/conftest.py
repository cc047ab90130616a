"""A fresh store in a folder of its own, and other processes to share it with."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Protocol

import pytest

from triagebot.store import Store, open_store
from triagebot.store.key_file import default_key_file

ROOT = Path(__file__).parents[2]
SCRIPT = Path(__file__).with_name("other_process.py")


class Begins(Protocol):
    def __call__(self, part: str, *arguments: object, wrapped_in: Sequence[str] = ()) -> "subprocess.Popen[str]": ...


class Runs(Protocol):
    def __call__(
        self, part: str, *arguments: object, wrapped_in: Sequence[str] = (), timeout: float = 120
    ) -> list[dict[str, Any]]: ...


def wait_for_line(process: "subprocess.Popen[str]") -> str:
    """The next line that a process prints, or "" when it has ended."""
    assert process.stdout is not None
    return process.stdout.readline()


def together(processes: list["subprocess.Popen[str]"]) -> list[list[dict[str, Any]]]:
    """Lets processes that say `ready` and wait go on at the same moment; gives what each printed until its end."""
    for process in processes:
        assert "ready" in wait_for_line(process)
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    printed = []
    for process in processes:
        lines, complaints = process.communicate(timeout=120)
        assert process.returncode == 0, complaints
        printed.append([json.loads(line) for line in lines.splitlines()])
    return printed


@pytest.fixture(autouse=True)
def key_file(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the key lies unless a test says otherwise, here and in other processes: in a folder of the test's own."""
    home = tmp_path_factory.mktemp("config")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home))
    return default_key_file()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def store(folder: Path) -> Iterator[Store]:
    with open_store(folder) as store:
        yield store


@pytest.fixture
def begin_process() -> Iterator[Begins]:
    """Starts a part of `other_process.py`; whatever still runs afterwards is ended."""
    begun: list[subprocess.Popen[str]] = []

    def begin(part: str, *arguments: object, wrapped_in: Sequence[str] = ()) -> "subprocess.Popen[str]":
        process = subprocess.Popen(
            [*wrapped_in, sys.executable, "-W", "error", str(SCRIPT), part, *map(str, arguments)],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        begun.append(process)
        return process

    yield begin
    for process in begun:
        if process.poll() is None:
            process.kill()
        with process:
            pass


@pytest.fixture
def run_process(begin_process: Begins) -> Runs:
    """Runs a part of `other_process.py` to its end and gives the JSON lines that it printed."""

    def run(
        part: str, *arguments: object, wrapped_in: Sequence[str] = (), timeout: float = 120
    ) -> list[dict[str, Any]]:
        process = begin_process(part, *arguments, wrapped_in=wrapped_in)
        printed, complaints = process.communicate(timeout=timeout)
        assert process.returncode == 0, complaints
        return [json.loads(line) for line in printed.splitlines()]

    return run
