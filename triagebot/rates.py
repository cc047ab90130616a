"""How often something may happen, by key: buckets of tokens that fill again; how long to wait before the next attempt;
how much of one person and of one place is heard, and when that is a flood."""

from collections import OrderedDict, deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from time import monotonic
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Rate:
    """So many at once, and so many a second in the long run."""

    burst: float
    a_second: float


@dataclass(frozen=True, slots=True)
class Cap:
    """How many messages are heard, and where the number comes from."""

    rate: Rate
    source: str


#: How much is heard of one person, and of one room in which several talk (the staff's too).
CAPS: Mapping[str, Cap] = MappingProxyType(
    {
        "person": Cap(Rate(240, 0.5), "judgement: a long talk has 60 messages, and nobody types 30 a minute on and on"),
        "room": Cap(Rate(600, 2.0), "judgement: a busy room of ten people, each at a quarter of what is heard of one"),
    }
)

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


@dataclass(slots=True)
class Flood:
    """More than is heard: `count` messages were passed over from `began` to `last` (s of a clock that runs evenly)."""

    who: str
    began: float
    last: float
    count: int = 0


class Floods:
    """Who sends more than is heard. A flood is over once nothing was passed over for `QUIET` seconds; one that lasts is
    told of every `TOLD_AGAIN` seconds; `MOST` are remembered. For one thread at a time."""

    QUIET, TOLD_AGAIN, MOST = 60.0, 3600.0, 1000

    def __init__(self, caps: Mapping[str, Cap] = CAPS, clock: Callable[[], float] = monotonic) -> None:
        self._buckets = {kind: Buckets(cap.rate, 10 * self.MOST, clock) for kind, cap in caps.items()}
        self._clock = clock
        self._floods: dict[str, Flood] = {}

    def passes_over(self, person: str, room: str = "") -> Flood | None:
        """Takes a message in. None where it is heard; else the flood that it belongs to, whose count is 1 when it has
        just begun."""
        who = next(
            (name for kind, name in (("person", person), ("room", room)) if name and self._buckets[kind].wait(name)), ""
        )
        if not who:
            return None
        now = self._clock()
        flood = self._floods.setdefault(who, Flood(who, now, now))
        flood.last, flood.count = now, flood.count + 1
        return flood

    def to_tell(self, *, closing: bool = False) -> Iterator[Flood]:
        """The floods to log now: those that are over, and those that have gone on for long. Each is returned once."""
        now, many = self._clock(), len(self._floods) - self.MOST
        for place, flood in enumerate(list(self._floods.values())):
            if closing or place < many or now - flood.last >= self.QUIET:
                yield self._floods.pop(flood.who)
            elif now - flood.began >= self.TOLD_AGAIN:
                yield Flood(flood.who, flood.began, flood.last, flood.count)
                flood.began, flood.count = now, 1
