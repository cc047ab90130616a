"""A picture rendered in a process beside this one is the same, holds nothing up, and comes whatever happens to it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from triagebot.pictures import Picture, elsewhere, picture, picture_ids, png, png_elsewhere, raster
from triagebot.pictures.elsewhere import ENOUGH
from triagebot.topics import Texts, Topic


@pytest.fixture
def aside(monkeypatch: pytest.MonkeyPatch) -> Iterator["elsewhere._Aside"]:
    """A process of the test's own, not started yet."""
    made = elsewhere._Aside()
    monkeypatch.setattr(elsewhere, "_ASIDE", made)
    yield made
    made.end()


@pytest.fixture
def drawing(topic: Topic, texts: Texts) -> Picture:
    return picture(topic, "fastening:freewheel-2-notch", texts)


def pid(aside: "elsewhere._Aside") -> int:
    assert aside.process is not None
    return aside.process.pid


def wait_until_gone(number: int) -> None:
    """Until a process is gone, or only its name is left."""
    with suppress(FileNotFoundError):
        while Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] != "Z":
            time.sleep(0.01)


def test_it_is_the_same_picture_and_one_process_renders_all(
    aside: "elsewhere._Aside", topic: Topic, texts: Texts
) -> None:
    numbers = set()
    for name in picture_ids(topic)[:4]:
        drawn = picture(topic, name, texts)
        assert png_elsewhere(drawn, 200) == png(drawn, 200)
        numbers.add(pid(aside))
    assert len(numbers) == 1


def test_nothing_is_started_before_the_first_picture(aside: "elsewhere._Aside", drawing: Picture) -> None:
    assert aside.process is None
    png_elsewhere(drawing, 50)
    assert aside.process is not None


def test_other_threads_go_on(
    aside: "elsewhere._Aside", drawing: Picture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a picture is being rendered another thread does something, and the renderer waits for just that."""
    begun, done = tmp_path / "begun", tmp_path / "done"
    (tmp_path / "waits.py").write_text(
        "import runpy, time\n"
        "from pathlib import Path\n"
        f"Path({str(begun)!r}).touch()\n"
        f"while not Path({str(done)!r}).exists():\n"
        "    time.sleep(0.01)\n"
        f"runpy.run_path({str(elsewhere.PROGRAM)!r}, run_name='__main__')\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(elsewhere, "PROGRAM", tmp_path / "waits.py")
    monkeypatch.setattr(elsewhere, "PATIENCE", 300.0)
    with ThreadPoolExecutor(1) as pool:
        made = pool.submit(png_elsewhere, drawing, 60)
        while not begun.exists():
            assert not made.done()
            time.sleep(0.01)
        done.touch()
        assert made.result() == png(drawing, 60)
    assert aside.deaths == 0


def test_many_threads_get_each_their_own_picture(aside: "elsewhere._Aside", topic: Topic, texts: Texts) -> None:
    drawn = [picture(topic, name, texts) for name in picture_ids(topic)[:6]]
    with ThreadPoolExecutor(6) as pool:
        found = list(pool.map(lambda one: png_elsewhere(one, 90), drawn * 3))
    assert found == [png(one, 90) for one in drawn] * 3


def test_should_it_die_the_picture_comes_and_another_is_started(aside: "elsewhere._Aside", drawing: Picture) -> None:
    wanted = png(drawing, 80)
    assert png_elsewhere(drawing, 80) == wanted
    first = pid(aside)
    os.kill(first, signal.SIGKILL)
    wait_until_gone(first)
    assert png_elsewhere(drawing, 80) == wanted
    assert pid(aside) != first


@pytest.mark.parametrize(
    "fate", ["raise SystemExit", "import sys; sys.stdin.buffer.read(9); sys.stdout.write('abcdef')"]
)
def test_one_that_always_dies_is_given_up(
    aside: "elsewhere._Aside", drawing: Picture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fate: str
) -> None:
    (tmp_path / "dies.py").write_text(fate, encoding="utf-8")
    monkeypatch.setattr(elsewhere, "PROGRAM", tmp_path / "dies.py")
    wanted = png(drawing, 60)
    for _ in range(ENOUGH + 1):
        assert png_elsewhere(drawing, 60) == wanted
    assert aside.deaths == ENOUGH
    assert aside.process is None


def test_one_that_cannot_be_started_is_done_without(
    aside: "elsewhere._Aside", drawing: Picture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "executable", "/no/such/python")
    assert png_elsewhere(drawing, 60) == png(drawing, 60)


def test_one_that_never_answers_is_not_waited_for(
    aside: "elsewhere._Aside", drawing: Picture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "sleeps.py").write_text("import threading; threading.Event().wait()", encoding="utf-8")
    monkeypatch.setattr(elsewhere, "PROGRAM", tmp_path / "sleeps.py")
    monkeypatch.setattr(elsewhere, "PATIENCE", 0.3)
    assert png_elsewhere(drawing, 60) == png(drawing, 60)
    assert aside.deaths == 1


def test_what_is_no_picture_is_an_error_here_too_and_kills_nothing(aside: "elsewhere._Aside", drawing: Picture) -> None:
    png_elsewhere(drawing, 60)
    first = pid(aside)
    with pytest.raises(ValueError):  # noqa: PT011 - the renderer's own words
        elsewhere.rendered_elsewhere("<svg")
    with pytest.raises(ValueError, match="pixels wide"):
        png_elsewhere(drawing, 0)
    assert png_elsewhere(drawing, 60) == png(drawing, 60)
    assert pid(aside) == first
    assert aside.deaths == 0


ASKS = """
import sys, time
from triagebot.pictures import elsewhere, on_paper, png_elsewhere
png_elsewhere(on_paper("one", 50, 50, "one", "one", ""), 50)
print(elsewhere._ASIDE.process.pid, flush=True)
if sys.argv[1] == "stay":
    time.sleep(3600)
"""


@pytest.mark.parametrize("end", ["leave", "stay"])
def test_it_ends_with_the_process_that_started_it(end: str) -> None:
    """At exit, and when that is killed."""
    with subprocess.Popen([sys.executable, "-c", ASKS, end], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        number = int(process.stdout.readline())
        if end == "stay":
            process.kill()
        process.wait()
    wait_until_gone(number)


def test_a_stop_key_is_not_for_it(aside: "elsewhere._Aside", drawing: Picture) -> None:
    png_elsewhere(drawing, 60)
    first = pid(aside)
    os.kill(first, signal.SIGINT)
    assert png_elsewhere(drawing, 60) == png(drawing, 60)
    assert pid(aside) == first


def test_the_ground_stays_white_and_files_are_small(topic: Topic, texts: Texts) -> None:
    for name in picture_ids(topic):
        made = png(picture(topic, name, texts), 1000)
        assert len(made) <= 60_000, name
        with Image.open(BytesIO(made)) as image:
            shown = image.convert("RGB")
            assert shown.getpixel((0, 0)) == (255, 255, 255), name
            assert len(image.getcolors() or ()) <= raster.COLOURS, name
