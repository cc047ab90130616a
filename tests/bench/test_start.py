"""What a start takes: a cold one-shot question, and reading the topic, each beside what can hardly be done without."""

import os
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import yaml

from tests.bench.clocks import Times
from tests.bench.conftest import Figures
from triagebot.topics import built_in_topic, load_topic

ROOT = Path(__file__).parent.parent.parent
RUNS = 6
#: Wanted, s, on a machine that does nothing else.
WALL = 0.7
#: Times the processor time of the bare imports.
RATIO = 4.5
#: Times the processor time of the YAML library alone, with its fastest loader, on the same files.
READING = 2.5
ASK = ["-m", "triagebot", "ask", "12 splines, about 23,4 mm, doesn't turn"]
BARE = ["-c", "import numpy, pydantic; pydantic.BaseModel"]


def _seconds(arguments: list[str]) -> tuple[float, float]:
    """Wall and processor time of one process, s."""
    environment = {**os.environ, "TRIAGEBOT_SETTINGS": os.devnull, "OPENBLAS_NUM_THREADS": "1"}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # else the words are compiled by each question anew
    before, wall = os.times(), perf_counter()
    subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        check=True,
        timeout=60,
    )
    passed, after = perf_counter() - wall, os.times()
    processor = after.children_user + after.children_system - before.children_user - before.children_system
    return passed, processor


def test_a_cold_question(figures: Figures) -> None:
    """Beside a Python that only imports the two largest libraries behind it, in turns."""
    compiled = [sys.executable, "-m", "compileall", "-q", str(ROOT / "triagebot")]
    subprocess.run(compiled, check=True, timeout=60)  # as setting up does; the words are compiled by the first question
    for arguments in (ASK, BARE):
        _seconds(arguments)
    asks, bares = zip(*((_seconds(ASK), _seconds(BARE)) for _ in range(RUNS)), strict=True)
    ratio = min(processor for _, processor in asks) / min(processor for _, processor in bares)
    for name, runs in (("ask, cold", asks), ("the bare imports", bares)):
        walls, processors = sorted(wall for wall, _ in runs), sorted(processor for _, processor in runs)
        figure = f"wall min {walls[0]:.2f} s, median {walls[RUNS // 2]:.2f} s; processor min {processors[0]:.2f} s"
        bound = f"wall <= {WALL} s on an idle machine; {ratio:.1f} times the bare imports, <= {RATIO}"
        figures(name, figure, bound if runs is asks else "")
    assert ratio <= RATIO


def test_reading_the_topic(figures: Figures) -> None:
    """Checked and turned into arrays, beside the library that only reads the files."""
    files = [path.read_text(encoding="utf-8") for path in sorted(built_in_topic().glob("*.yaml"))]
    ours, bare = Times(), Times()
    for _ in range(RUNS):
        ours.run(lambda: load_topic(built_in_topic()))
        bare.run(lambda: [yaml.load(text, yaml.CSafeLoader) for text in files])
    ratio = min(ours.processor) / min(bare.processor)
    figures("reading the topic", str(ours), f"{ratio:.1f} times the YAML library alone, <= {READING}")
    figures("the YAML library alone", str(bare))
    assert ratio <= READING
