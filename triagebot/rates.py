"""How often something may happen, by key: buckets of tokens that fill again; and how long to wait before the next
attempt."""

from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic


@dataclass(frozen=True, slots=True)
class Rate:
    """So many at once, and so many a second in the long run."""

    burst: float
    a_second: float


#: Pauses (s) while something fails: the first, its growth, and the longest in the first minutes, so that who waits is
#: answered within seconds of an outage's end; so many attempts later they grow again.
FIRST_PAUSE, GROWTH, SHORT, SOON = 0.5, 2.0, 2.0, 60


def pause_before(attempt: int, longest: float, first: float = FIRST_PAUSE) -> float:
    """Seconds before the next attempt, after so many that failed."""
    soon = min(SHORT, first * GROWTH ** min(attempt - 1, 30))
    return min(longest, soon if attempt <= SOON else SHORT * GROWTH ** min(attempt - SOON, 30))


class Window:
    """How often something happened lately: no more than the burst of a rate in the time in which that fills again,
    whichever time of that length is looked at."""

    def __init__(self, rate: Rate, clock: Callable[[], float] = monotonic) -> None:
        self._most, self._length, self._clock = rate.burst, rate.burst / rate.a_second, clock
        self._times: deque[float] = deque()

    def wait(self, *, beside: int = 0) -> float:
        """Takes a place where so many others are left `beside` it: 0. Where that is not so: how many seconds until it
        may be, and none is taken."""
        now = self._clock()
        while self._times and self._times[0] <= now - self._length:
            self._times.popleft()
        over = len(self._times) + beside + 1 - self._most
        if over <= 0:
            self._times.append(now)
            return 0.0
        return max(self._times[int(over) - 1] + self._length - now, 1e-3) if over <= len(self._times) else self._length


class Buckets:
    """How many tokens each key has left at one rate. `most` keys are remembered; the one that has not asked for longest
    is forgotten first, and so is every key whose bucket is full again."""

    def __init__(self, rate: Rate, most: int, clock: Callable[[], float] = monotonic) -> None:
        self._rate = rate
        self._most = most
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait(self, key: str, *, beside: int = 0) -> float:
        """Takes a token where so many others are left `beside` it: 0. Where that is not so: how many seconds until it
        is, and none is taken."""
        return self._take(key, 1 + beside, on_credit=False)

    def reserve(self, key: str) -> float:
        """Takes a token in any case; in how many seconds it may be used. Who reserves first goes first."""
        return self._take(key, 1, on_credit=True)

    def rename(self, old: str, new: str) -> None:
        if old in self._left:
            self._left[new] = self._left.pop(old)

    def _take(self, key: str, wanted: int, *, on_credit: bool) -> float:
        now = self._clock()
        left = self._filled(*self._left.pop(key, (self._rate.burst, now)), now)
        wait = max(0.0, (wanted - left) / self._rate.a_second)
        self._left[key] = (left if wait and not on_credit else left - 1, now)
        while len(self._left) > self._most or self._filled(*next(iter(self._left.values())), now) >= self._rate.burst:
            self._left.popitem(last=False)
        return wait

    def _filled(self, left: float, then: float, now: float) -> float:
        return min(self._rate.burst, left + (now - then) * self._rate.a_second)

    def __len__(self) -> int:
        return len(self._left)
