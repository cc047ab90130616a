"""The benches: what is measured is printed as one table at the end of the run, with the machine that it was taken on.

Rules of this folder:
- bounds are on processor time, since what else the machine does is no property of the program; wall time is printed
  beside it where a person waits for it;
- everything is warmed up first, and the garbage collector is set as the program sets it;
- ratios are between things measured in the same run;
- an ordinary run of the tests holds only ratios of processor time, which hold on any machine. What is bounded in
  milliseconds, or by the wall clock, is a campaign: it is run by itself on an idle machine.
"""

import gc
import os
import platform
from collections.abc import Iterator
from pathlib import Path

import pytest

from triagebot.conversation import Guide, load_guide
from triagebot.shop import built_in_shop, load_shop
from triagebot.topics import Topic, built_in_topic, load_topic

_ROWS: list[tuple[str, str, str]] = []


class Figures:
    """Takes down what was measured: a name, the figure with its unit, and the bound if there is one."""

    def __call__(self, name: str, figure: str, bound: str = "") -> None:
        _ROWS.append((name, figure, bound))


@pytest.fixture(scope="session")
def figures() -> Figures:
    return Figures()


@pytest.fixture(scope="session", autouse=True)
def _collector() -> Iterator[None]:
    before = gc.get_threshold()
    gc.collect()
    gc.freeze()  # the test runner's own objects
    gc.set_threshold(200_000, 20, 20)
    yield
    gc.set_threshold(*before)
    gc.unfreeze()


@pytest.fixture(scope="session")
def topic() -> Topic:
    return load_topic(built_in_topic())


@pytest.fixture(scope="session")
def guide(topic: Topic) -> Guide:
    return load_guide(topic, load_shop(built_in_shop(), topic))


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        lines = []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith(("model name", "Model", "Hardware"))]
    return f"{names[0] if names else platform.processor() or platform.machine()}, {os.cpu_count()} cores"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if not _ROWS:
        return
    terminalreporter.section("figures")
    terminalreporter.write_line(f"{_processor()}; Python {platform.python_version()}; load {os.getloadavg()[0]:.1f}")
    widths = [max(len(row[column]) for row in _ROWS) for column in range(2)]
    for name, figure, bound in _ROWS:
        terminalreporter.write_line(f"{name:<{widths[0]}}  {figure:<{widths[1]}}  {bound}".rstrip())
