"""`talk` as a process: in a terminal, through a pipe, several at once, and killed."""

import json
import os
import pty
import re
import select
import signal
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.commands import COMMAND, PATIENCE, environment, line, rows, run


class Talking:
    """A `talk --lines` process that answers one line after another, until it is killed."""

    def __init__(self, data: Path, *more: str) -> None:
        self.process = subprocess.Popen(
            [*COMMAND, "talk", "--lines", *more],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=environment(data),
            text=True,
            encoding="utf-8",
        )

    def says(self, raw: str) -> dict[str, Any]:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(raw)
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        assert answer, self.process.stderr.read() if self.process.stderr else ""
        row: dict[str, Any] = json.loads(answer)
        return row

    def dies(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        with self.process:
            pass


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def processes() -> Iterator[list[Talking]]:
    begun: list[Talking] = []
    yield begun
    for talking in begun:
        if talking.process.poll() is None:
            talking.dies()


def test_lines_killed_and_taken_up_again(data: Path, processes: list[Talking]) -> None:
    said = ["the wheel is out", "the middle stays still", "12 splines", "2.3 mm", "yes"]
    last: dict[str, Any] = {}
    for number, text in enumerate(said):
        talking = Talking(data)
        processes.append(talking)
        if last:
            again = talking.says(line("p1", said[number - 1], id=f"m{number - 1}"))
            assert (again["case"], again["state"], again["question"]) == (last["case"], last["state"], last["question"])
            assert again["candidates"] == last["candidates"]
        last = talking.says(line("p1", text, id=f"m{number}"))
        talking.dies()
    assert last["candidates"][0]["probability"] > 0


def test_talk_killed_and_taken_up_again(data: Path) -> None:
    process = subprocess.Popen(
        [*COMMAND, "talk"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(data),
        text=True,
        encoding="utf-8",
    )
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("the middle stays still, 12 splines\n")
    process.stdin.flush()
    shown = []
    for each in process.stdout:
        shown.append(each)
        if "12 splines" in "".join(shown) and each.startswith("  ("):
            break
    process.send_signal(signal.SIGKILL)
    with process:
        pass
    again = run("talk", data=data)
    assert again.returncode == 0
    assert "the middle stays still" in " ".join(again.stdout.split())
    assert shown[-1].strip() in again.stdout
    reasons = run("talk", said="why\n", data=data).stdout
    assert "12" in reasons


def test_talk_through_a_pipe_to_the_end(data: Path) -> None:
    done = run("talk", said="the middle stays still\n12 splines\nblub\nperson\nstop\nmore", data=data)
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout.rstrip().splitlines()[-1].startswith("Goodbye")
    assert "> more" not in done.stdout


def test_bytes_that_are_no_text(data: Path) -> None:
    raw = b'\xff\xfe\n{"person": "p1", "text": "it stays still \xff"}\r\n\r\n{"person": "p1", "text": "12 splines"}'
    done = run("talk", "--lines", said=raw, data=data)
    assert done.returncode == 0
    error, first, second = rows(done.stdout)
    assert list(error) == ["error"]
    assert first["person"] == second["person"] == "p1"
    assert first["candidates"] != second["candidates"]
    assert run("talk", said=b"it stays \xff still\n\xfe\n12 splines\n", data=data).returncode == 0


def test_a_huge_line(data: Path) -> None:
    huge = '{"person": "p1", "text": "' + "x" * 3_000_000 + '"}\n'
    done = run("talk", "--lines", said=huge + line("p1", "12 splines"), data=data)
    error, answer = rows(done.stdout)
    assert list(error) == ["error"]
    assert answer["status"] == "question"


def test_memory_keeps_nothing(data: Path) -> None:
    assert run("talk", "--memory", said="it stays still\n", data=data).returncode == 0
    assert not data.exists()


def together(talkings: list[Talking], scripts: list[list[str]]) -> list[list[dict[str, Any]]]:
    """Lets several processes answer at the same time."""
    answers: list[list[dict[str, Any]]] = [[] for _ in talkings]

    def hold(place: int) -> None:
        answers[place].extend(talkings[place].says(raw) for raw in scripts[place])

    threads = [threading.Thread(target=hold, args=(place,)) for place in range(len(talkings))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE)
    return answers


def test_two_processes_two_people(data: Path, processes: list[Talking]) -> None:
    processes += [Talking(data), Talking(data)]
    texts = ["it stays still", "12 splines", "2.3 mm", "yes", "9 sprockets", "a plain hub", "back", "why"]
    first, second = together(processes, [[line("p1", text) for text in texts], [line("p2", text) for text in texts]])
    assert [row["question"] for row in first] == [row["question"] for row in second]
    assert first[-1]["candidates"] == second[-1]["candidates"]
    assert len({row["case"] for row in first}) == len({row["case"] for row in second}) == 1
    assert first[0]["case"] != second[0]["case"]


def test_two_processes_one_person(data: Path, processes: list[Talking]) -> None:
    processes += [Talking(data), Talking(data)]
    mine = ["it stays still", "9 sprockets", "a plain hub", "no torque is stamped on it"]
    theirs = ["it has splines", "23 mm by calliper", "no wire ring", "it coasts"]
    answers = together(processes, [[line("p1", text) for text in mine], [line("p1", text) for text in theirs]])
    assert all("error" not in row for each in answers for row in each)
    assert len({row["case"] for each in answers for row in each}) == 1
    words = processes[0].says(line("p1", "why"))["replies"][0]
    for part in ("stays still", "sprockets", "plain", "torque", "splines", "23", "wire ring", "roll"):
        assert part in words, part


def test_in_a_terminal_it_talks(data: Path) -> None:
    """Without arguments in a terminal it greets, and goes on until the person stops or closes the input."""
    for ending in (b"stop\n", b"\x04"):
        ours, theirs = pty.openpty()
        process = subprocess.Popen(
            COMMAND, stdin=theirs, stdout=theirs, stderr=theirs, env=environment(data, TERM="dumb"), close_fds=True
        )
        os.close(theirs)
        shown, asked, answers = b"", 0, [b"the middle stays still, 12 splines\n", ending]
        while True:
            try:
                shown += os.read(ours, 65536)
            except OSError:  # the other side is closed
                break
            if answers and shown.count(b"\n> ") > asked:
                asked = shown.count(b"\n> ")
                os.write(ours, answers.pop(0))
        assert process.wait(PATIENCE) == 0
        os.close(ours)
        assert b"Traceback" not in shown
        assert b"So: 12 splines" in shown or b"already" in shown  # what is known from the first time


def test_what_comes_in_is_shown_above_the_line_that_is_being_written(data: Path) -> None:
    """A customer at one terminal and a member at another read each other's words without writing anything."""
    invited = subprocess.run(
        [*COMMAND, "staff", "invite", "--name", "Ada"],
        env=environment(data),
        capture_output=True,
        text=True,
        check=True,
    )
    with Sitting(data, "ada") as ada, Sitting(data, "bob") as bob:
        ada.writes(invited.stdout.split()[0])
        ada.reads("You’re staff")
        bob.writes("person")
        code = ada.reads(r"([0-9A-Z]{3}-[0-9A-Z]{3}) needs a person").group(1)
        ada.writes(f"claim {code}")
        ada.reads("is yours")
        bob.writes("hello?")
        ada.reads("they wrote: “hello[?]”")
        bob.writes("I wait", ends="")
        bob.reads("I wait$")
        ada.writes(f"say {code} At five.")
        bob.reads(r"At five[.](?s:.*)> I wait$")


class Sitting:
    """Somebody at a terminal of their own."""

    def __init__(self, data: Path, person: str) -> None:
        self._ours, theirs = pty.openpty()
        self._shown = ""
        self._process = subprocess.Popen(
            [*COMMAND, "talk", "--person", person], stdin=theirs, stdout=theirs, stderr=theirs,
            env=environment(data, TERM="dumb"), close_fds=True,
        )  # fmt: skip
        os.close(theirs)

    def __enter__(self) -> "Sitting":
        self.reads("> $")
        return self

    def __exit__(self, *_: object) -> None:
        self.writes("", ends="\n\x04")
        try:
            assert self._process.wait(PATIENCE) == 0
        finally:
            self._process.kill()
            os.close(self._ours)

    def writes(self, line: str, ends: str = "\n") -> None:
        self._shown = ""
        os.write(self._ours, (line + ends).encode())

    def reads(self, pattern: str) -> re.Match[str]:
        """What is shown, until the pattern is found in it."""
        until = time.monotonic() + PATIENCE
        while (found := re.search(pattern, self._shown)) is None:
            assert time.monotonic() < until, self._shown
            if select.select([self._ours], [], [], 0.1)[0]:
                self._shown += os.read(self._ours, 65536).decode("utf-8", "replace").replace("\r\n", "\n")
        return found
