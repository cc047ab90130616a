"""Times of short pieces of work: every run's processor time and wall time, in milliseconds."""

from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter, process_time
from typing import TypeVar

import numpy as np

from triagebot.identify.remembered import forget

T = TypeVar("T")


@dataclass
class Times:
    """Runs so far. `processor` and `wall` hold one entry a run, ms."""

    processor: list[float] = field(default_factory=list)
    wall: list[float] = field(default_factory=list)

    def run(self, work: Callable[[], T]) -> T:
        """Do `work` and take down how long it took, with nothing remembered from the runs before."""
        forget()
        wall, processor = perf_counter(), process_time()
        result = work()
        self.processor.append((process_time() - processor) * 1000)
        self.wall.append((perf_counter() - wall) * 1000)
        return result

    def at(self, percent: float) -> float:
        """A percentile of the processor time, ms."""
        return float(np.percentile(self.processor, percent))

    @property
    def median(self) -> float:
        """Median processor time, ms."""
        return self.at(50)

    def __str__(self) -> str:
        wall = float(np.median(self.wall)), float(np.percentile(self.wall, 99))
        return (
            f"median {self.median:.2f} ms, 99th percentile {self.at(99):.2f} ms "
            f"(wall {wall[0]:.2f}, {wall[1]:.2f}; {len(self.wall)} runs)"
        )
