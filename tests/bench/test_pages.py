"""Pages beside the framework alone, and turns on the chat page beside JSON lines; each pair in one run, by turns, over
real HTTP and real pipes. A page is kept ready, so it has to be faster than rendering it at each request, and not much
slower than a route that only gives out bytes.
"""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest

from tests.bench.conftest import Figures
from tests.bench.pages_server import NOTE

pytestmark = pytest.mark.campaign

ROUNDS, WARM = 1500, 100
#: Pages a second beside a bare route that renders the same template, and beside one that renders nothing.
RENDERING, NOTHING = 1.0, 0.35
#: What a turn on the chat page may take beside a line: two commits more, and the page's HTML.
TURN = 4.0

TALK = ("start", "9 sprockets", "it stays still", "4 notches", "how do I check?", "24 mm by calliper", "why", "restart")
TALKS = 25


class Waits:
    """How long each answer took, s."""

    def __init__(self) -> None:
        self.seconds: list[float] = []

    def time(self, work: Callable[[], object]) -> None:
        begun = perf_counter()
        work()
        self.seconds.append(perf_counter() - begun)

    @property
    def a_second(self) -> float:
        return len(self.seconds) / sum(self.seconds)

    def at(self, percent: float) -> float:
        """A percentile, ms."""
        return float(np.percentile(self.seconds, percent) * 1000)

    def __str__(self) -> str:
        return f"{self.a_second:.0f} a second, median {self.at(50):.2f} ms, 99th percentile {self.at(99):.2f} ms"


@contextmanager
def program(*arguments: str) -> Iterator["subprocess.Popen[str]"]:
    with subprocess.Popen(
        [sys.executable, *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1
    ) as started:
        yield started
        assert started.stdin is not None
        started.stdin.close()
        assert started.wait(30) == 0


def get(door: HTTPConnection, path: str) -> bytes:
    door.request("GET", path)
    answer = door.getresponse()
    assert answer.status == 200
    return answer.read()


def test_a_note(tmp_path: Path, figures: Figures) -> None:
    with program("-m", "tests.bench.pages_server", str(tmp_path)) as server:
        assert server.stdout is not None
        doors = [HTTPConnection("127.0.0.1", port) for port in json.loads(server.stdout.readline())]
        paths = [f"/notes/{NOTE}", "/note", "/note"]
        ours, rendering, nothing = waits = [Waits(), Waits(), Waits()]
        assert len({get(door, path) for door, path in zip(doors, paths, strict=True)}) == 1, "one page, three ways"
        for n in range(WARM + ROUNDS):
            for door, path, wait in zip(doors, paths, waits, strict=True):
                if n < WARM:
                    get(door, path)
                else:
                    wait.time(lambda door=door, path=path: get(door, path))  # type: ignore[misc]
        for door in doors:
            door.close()
    figures("a note page", str(ours), f">= {RENDERING:g} times the next, >= {NOTHING:g} times the one after")
    figures("the same template, bare route", str(rendering))
    figures("the same bytes, bare route", str(nothing))
    assert ours.a_second >= RENDERING * rendering.a_second
    assert ours.a_second >= NOTHING * nothing.a_second
    assert ours.at(99) <= rendering.at(99) * 1.5


def test_a_turn_on_the_chat_page(tmp_path: Path, figures: Figures) -> None:
    lines_folder = tmp_path / "lines"
    talking = ("-m", "triagebot", "talk", "--lines", "--data", str(lines_folder))
    with program("-m", "tests.bench.pages_server", str(tmp_path)) as server, program(*talking) as lines:
        assert server.stdout is not None
        assert lines.stdin is not None
        assert lines.stdout is not None
        port = json.loads(server.stdout.readline())[0]
        door = HTTPConnection("127.0.0.1", port)
        page, line = Waits(), Waits()

        def on_the_page(person: int, words: str) -> None:
            headers = {"content-type": "application/json", "accept": "application/json"}
            headers["x-chat-secret"] = f"{person:043}"
            door.request("POST", "/chat/say", json.dumps({"text": words, "after": after[-1]}), headers)
            answer = door.getresponse()
            assert answer.status == 200
            after.append(json.loads(answer.read())["messages"][-1]["id"])

        def on_a_line(person: int, words: str) -> None:
            print(json.dumps({"person": f"p{person}", "text": words}), file=lines.stdin, flush=True)
            assert json.loads(lines.stdout.readline())["replies"]  # type: ignore[union-attr]

        for person in range(TALKS):
            after = [0]
            for words in TALK:
                if person < 2:
                    on_the_page(person, words)
                    on_a_line(person, words)
                else:
                    page.time(lambda person=person, words=words: on_the_page(person, words))  # type: ignore[misc]
                    line.time(lambda person=person, words=words: on_a_line(person, words))  # type: ignore[misc]
        door.close()
    figures("a turn on the chat page", str(page), f"<= {TURN:g} times the next")
    figures("a turn of talk --lines", str(line))
    assert page.at(50) <= TURN * line.at(50)
