"""Runs: the platform and a bot, each in a process of its own, from the first message to the figures."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.doubles.telegram import some_token

ROOT = Path(__file__).parent.parent.parent
#: Seconds that a bot gets to be ready for its first message, and to end.
READY_WITHIN, ENDS_WITHIN = 60.0, 20.0


@dataclass(frozen=True, slots=True)
class Figures:
    """`turns` in so many `seconds`; `took` s each, sorted. `processor` and `platform` are the processor time (s) of
    the bot and of the platform; `memory` is what the bot holds at the end, MB. `refused` requests went over the
    platform's limits; `changed` answered messages were changed. `recovered` is how long after an outage
    everybody was answered who waited then, s."""

    turns: int
    seconds: float
    took: Sequence[float]
    processor: float
    platform: float
    memory: float
    refused: int
    changed: int
    recovered: float

    @property
    def median(self) -> float:
        """Of a turn, s."""
        return float(np.median(self.took))

    @property
    def rate(self) -> float:
        """Turns a second."""
        return self.turns / self.seconds

    @property
    def late(self) -> float:
        """99th percentile of a turn, s."""
        return float(np.percentile(self.took, 99))

    def __str__(self) -> str:
        return (
            f"{self.rate:.0f} turns/s; median {self.median * 1e3:.1f} ms, 99th percentile "
            f"{self.late * 1e3:.0f} ms; {1e3 * self.processor / max(self.turns, 1):.1f} ms processor a turn "
            f"(platform {1e3 * self.platform / max(self.turns, 1):.1f}), {self.memory:.0f} MB; {self.refused} refused, "
            f"{self.changed} changed"
        )


class Platform:
    """The fake platform with people, ready to talk."""

    def __init__(self, process: "subprocess.Popen[str]", token: str) -> None:
        self._process = process
        self.token = token
        self.server = f"http://127.0.0.1:{self._read()}"

    def _read(self) -> str:
        assert self._process.stdout is not None
        return self._process.stdout.readline().strip()

    def talk(
        self, bot: int, seats: int, warm: float, seconds: float, *, limits: bool = False, away: float = 0.0,
        rest: float = 0.0, away_for: float = 0.0,
    ) -> Figures:  # fmt: skip
        """Has so many people at a time talk to the bot of that process for so long."""
        assert self._process.stdin is not None
        given = {"bot": bot, "seats": seats, "warm": warm, "seconds": seconds}
        given |= {"limits": limits, "away": away, "rest": rest, "away_for": away_for}
        self._process.stdin.write(json.dumps(given) + "\n")
        self._process.stdin.flush()
        got = json.loads(self._read())
        assert not got["odd"], f"the bot said what is not in the script: {got['odd'][:3]}"
        assert got["left"] == 0, "a message was not answered"
        assert got["took"], "the bot did not answer in time"
        return Figures(
            len(got["took"]), got["seconds"], sorted(got["took"]), got["processor"], got["platform"], resident(bot),
            got["refused"], got["changed"], got["recovered"],
        )  # fmt: skip


@contextmanager
def platform(script: Path, people: int) -> Iterator[Platform]:
    """The platform with so many people, in a process of its own."""
    token = some_token()
    command = [sys.executable, "-m", "tests.bench.telegram_people", str(script), token, str(people)]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield Platform(process, token)
        finally:
            process.terminate()


@contextmanager
def bot(module: str, arguments: Sequence[str], environment: Mapping[str, str] | None = None) -> Iterator[int]:
    """A bot in a process of its own; gives its number."""
    command = [sys.executable, "-m", module, *arguments]
    inherited = {**os.environ, "OPENBLAS_NUM_THREADS": "1"} | dict(environment or {})
    with subprocess.Popen(command, cwd=ROOT, env=inherited, stdin=subprocess.DEVNULL) as process:
        try:
            yield process.pid
        finally:
            process.terminate()
            try:
                process.wait(ENDS_WITHIN)
            except subprocess.TimeoutExpired:
                process.kill()


def resident(process: int) -> float:
    """What a process holds in memory, MB."""
    lines = Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS:")) / 1024
