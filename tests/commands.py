"""`triagebot` as a process: what it is given, prints and exits with.

Most tests only ask what a command does, and importing the libraries takes ten times as long as doing it. So `run` forks
from a process that has imported them (the standard library's fork server). `fresh` starts Python anew, for tests about
starting: the locale, the streams, what the process is wrapped in.
"""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import warnings
from collections.abc import Callable, Sequence
from functools import cache
from multiprocessing.context import ForkServerContext
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from tests.store import cluster

#: Whether a warning is an error.
Warned = Literal["error", "default"]

ROOT = Path(__file__).parents[1]
COMMAND = (sys.executable, "-W", "error", "-m", "triagebot")
#: s. Nothing takes so long: who waits that long has met a command that hangs.
PATIENCE = 600
#: What the commands import when they need it; a name that is gone only makes the command import more by itself.
IMPORTED = (
    *("triagebot.cli", "triagebot.channels.lines", "triagebot.channels.terminal", "triagebot.conversation.turn"),
    *("triagebot.delivery", "triagebot.gauge", "triagebot.pictures", "triagebot.shop.check", "triagebot.store"),
    *("triagebot.study", "triagebot.study.replay", "triagebot.study.review", "triagebot.topics.check"),
    *("alembic.command", "fpdf"),
)
#: What `serve` imports besides.
SERVING = ("triagebot.serving", "triagebot.channels.telegram.channel", "triagebot.channels.matrix.channel")


def environment(data: Path | str = "/nonexistent", **more: str) -> dict[str, str]:
    """What a process gets of the environment: nothing of the settings that the tests run under."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("TRIAGEBOT_", "LC_", "LANG"))}
    if cluster.CLUSTER in kept:  # the test is run on PostgreSQL
        kept["TRIAGEBOT_DATABASE"] = cluster.url_for(kept[cluster.CLUSTER], Path(data))
    return {
        **kept,
        "PYTHONPATH": str(ROOT),
        "TRIAGEBOT_SETTINGS": "/dev/null",
        "TRIAGEBOT_DATA_FOLDER": str(data),
        "LANG": "C.UTF-8",
        **more,
    }


def run(
    *arguments: str | Path,
    said: bytes | str = b"",
    data: Path | str = "/nonexistent",
    cwd: Path | None = None,
    fresh: bool = False,
    wrapped_in: Sequence[str] = (),
    **more: str,
) -> "subprocess.CompletedProcess[str]":
    """A command to its end; whatever happens, it never shows a traceback."""
    words = [str(argument) for argument in arguments]
    heard = said.encode() if isinstance(said, str) else said
    given = environment(data, **more)
    if fresh or wrapped_in:
        command = [*wrapped_in, *COMMAND, *words]
        done = subprocess.run(
            command, input=heard, capture_output=True, timeout=PATIENCE, check=False, env=given, cwd=cwd
        )
    else:
        done = _forked(words, heard, given, cwd)
    out, complaints = done.stdout.decode(), done.stderr.decode()
    assert "Traceback" not in complaints, complaints
    assert "Traceback" not in out
    return subprocess.CompletedProcess(done.args, done.returncode, out, complaints)


@cache
def _fork_server() -> ForkServerContext:
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # a process with threads is not to be forked
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([*IMPORTED, *SERVING])
    return context


class Forked:
    """A function of a module that goes on beside the tests in a process of its own, until it ends or is killed."""

    def __init__(self, target: Callable[..., None], *arguments: Any) -> None:
        self._process = _fork_server().Process(target=target, args=arguments)
        self._process.start()

    def poll(self) -> int | None:
        """What it exited with; None as long as it runs."""
        return self._process.exitcode

    def wait(self, seconds: float = PATIENCE) -> int:
        self._process.join(seconds)
        if self._process.exitcode is None:
            raise subprocess.TimeoutExpired("triagebot", seconds)
        return self._process.exitcode

    def kill(self) -> None:
        self._process.kill()

    def send_signal(self, number: signal.Signals) -> None:
        assert self._process.pid is not None
        os.kill(self._process.pid, number)


class Running(Forked):
    """A command that goes on beside the tests, with both streams in a file, until it ends, is told to or is killed."""

    def __init__(self, words: Sequence[str], given: dict[str, str], log: Path) -> None:
        streams = [Path(os.devnull), log, log]
        super().__init__(_main, words, given, streams, Path.cwd(), "default")


class Piped(Forked):
    """A command that goes on beside the tests and tells what it says as it says it, as `subprocess.Popen` does with
    pipes: `stderr` gives its lines."""

    def __init__(self, words: Sequence[str], given: dict[str, str], folder: Path, stdin: Path) -> None:
        folder.mkdir()
        self._out, pipe = folder / "stdout", folder / "stderr"
        self._out.touch()
        os.mkfifo(pipe)
        super().__init__(_main, words, given, [stdin, self._out, pipe], Path.cwd(), "default")
        self.stderr = pipe.open(encoding="utf-8")  # comes back once the process has opened it, too

    @property
    def returncode(self) -> int | None:
        return self.poll()

    def communicate(self, timeout: float = PATIENCE) -> tuple[str, str]:
        """All that it says until its end, but for what was read before."""
        said = "" if self.stderr.closed else self.stderr.read()
        self.stderr.close()
        self.wait(timeout)
        return self._out.read_text(encoding="utf-8"), said


def _forked(
    words: list[str], heard: bytes, given: dict[str, str], cwd: Path | None
) -> "subprocess.CompletedProcess[bytes]":
    with TemporaryDirectory() as folder:
        streams = [Path(folder) / name for name in ("stdin", "stdout", "stderr")]
        for stream, content in zip(streams, (heard, b"", b""), strict=True):
            stream.write_bytes(content)
        process = _fork_server().Process(target=_main, args=(words, given, streams, cwd or Path.cwd()))
        process.start()
        process.join(PATIENCE)
        if process.exitcode is None:
            process.kill()
            process.join()
            raise subprocess.TimeoutExpired(words, PATIENCE)
        return subprocess.CompletedProcess(words, process.exitcode, streams[1].read_bytes(), streams[2].read_bytes())


def _main(words: list[str], given: dict[str, str], streams: list[Path], cwd: Path, warned: Warned = "error") -> None:
    """What the forked process does: all that a new one is given, and then the command."""
    written = os.O_WRONLY | os.O_APPEND
    for number, (stream, flags) in enumerate(zip(streams, (os.O_RDONLY, written, written), strict=True)):
        opened = os.open(stream, flags)
        os.dup2(opened, number)
        os.close(opened)
    sys.stdin, sys.stdout, sys.stderr = (
        open(number, mode, closefd=False)  # noqa: SIM115 - open to the end
        for number, mode in enumerate(("r", "w", "w"))
    )
    os.chdir(cwd)
    os.environ.clear()
    os.environ.update(given)
    sys.argv = ["triagebot", *words]
    warnings.simplefilter(warned)
    from triagebot.cli import main

    main()


def rows(printed: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in printed.splitlines()]


def line(person: str, text: str, **more: object) -> str:
    return json.dumps({"person": person, "text": text, **more}) + "\n"


def everything_in(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
