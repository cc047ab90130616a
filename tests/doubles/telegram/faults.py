"""What goes wrong on the way: which updates are lost, late, doubled or out of order, and which requests fail.

Decided here and nowhere else. Every draw depends on the seed and on what it is drawn for (the third message of chat 7,
the fifth sendMessage of a bot), not on the order in which things happen to meet, so the same acts under the same seed
meet the same faults.
"""

import random
from collections import Counter, defaultdict, deque
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, fields
from typing import Any, Literal

#: Which queue an update stands in: ("message", chat) or ("press", person).
Lane = tuple[str, int]

#: What can happen to one request. "lost": cut before it was applied; "cut": applied, but the answer never arrives.
Fault = Literal["slow", "500", "502", "429", "lost", "cut"]
FAULTS: tuple[Fault, ...] = ("slow", "500", "502", "429", "lost", "cut")


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """Chances between 0 and 1, and times in seconds."""

    seed: int = 0
    #: Updates: never sent; sent up to `delay_seconds` late; sent twice (messages under the same number, presses under a
    #: new one, half of them with a new query id); held until the same person's next update of the other lane has passed
    #: it, for `hold_seconds` at most.
    drop: float = 0.0
    delay: float = 0.0
    delay_seconds: float = 0.5
    duplicate: float = 0.0
    swap: float = 0.0
    hold_seconds: float = 1.0
    #: Requests, by fault; `slow_seconds` is how long a slow answer takes at most, `retry_after` what 429 says.
    slow: float = 0.0
    slow_seconds: float = 0.5
    server_error: float = 0.0
    bad_gateway: float = 0.0
    too_many: float = 0.0
    retry_after: int = 1
    lost: float = 0.0
    cut: float = 0.0
    #: Methods, in lower case, that the faults of requests meet; all of them if it is empty.
    methods: tuple[str, ...] = ()

    def json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def of(cls, given: dict[str, Any]) -> "Faults":
        unknown = given.keys() - {each.name for each in fields(cls)}
        if unknown:
            raise ValueError(f"no such fault: {', '.join(sorted(unknown))}")
        return cls(**given | {"methods": tuple(given.get("methods", ()))})


#: In this order a request is drawn for: the first that happens is the one.
_CHANCES: dict[Fault, str] = {
    "500": "server_error",
    "502": "bad_gateway",
    "429": "too_many",
    "lost": "lost",
    "cut": "cut",
    "slow": "slow",
}


class FaultInjector:
    """The present chances of faults, and what was ordered for single requests on top of it."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.outage_until = 0.0
        self._counts: Counter[tuple[str, int]] = Counter()
        self._ordered: defaultdict[str, deque[Fault]] = defaultdict(deque)

    def inject(self, method: str, fault: Fault, times: int) -> None:
        if fault not in FAULTS:
            raise ValueError(f"no such fault: {fault}")
        self._ordered[method.lower()].extend([fault] * times)

    def draws(self, what: str, whose: int) -> random.Random:
        """Draws for the next `what` of `whose`."""
        self._counts[what, whose] += 1
        return random.Random(f"{self.faults.seed}:{what}:{whose}:{self._counts[what, whose]}")

    def fault(self, method: str, bot: int) -> tuple[Fault | None, float]:
        """What happens to this request, and a number between 0 and 1 for how much of it."""
        ordered = self._ordered.get(method)
        if ordered:
            return ordered.popleft(), 1.0
        faults = self.faults
        if faults.methods and method not in faults.methods:
            return None, 0.0
        if not any(getattr(faults, name) for name in _CHANCES.values()):
            return None, 0.0
        draws = self.draws(method, bot)
        for fault, name in _CHANCES.items():
            if draws.random() < getattr(faults, name):
                return fault, draws.random()
        return None, 0.0


@dataclass(slots=True)
class _Underway:
    due: float
    deliver: Callable[[], None]
    #: Waits until an update of this lane has gone by.
    behind: Lane | None = None


@dataclass
class Transit:
    """Where updates are between the phone and the bot's queue: in lanes, each in its own order."""

    injector: FaultInjector
    lanes: defaultdict[Lane, deque[_Underway]] = field(default_factory=lambda: defaultdict(deque))

    def send(self, lane: Lane, other: Lane, now: float, deliver: Callable[[], None], again: Callable[[], None]) -> None:
        """Puts one update on its way; `again` delivers it a second time, if it is doubled.

        `other` is the lane in which the same person's other updates go.
        """
        faults = self.injector.faults
        draws = self.injector.draws(*lane)
        lost, late, doubled, held = (draws.random() < chance for chance in _per_update(faults))
        if not lost:
            due = now + (draws.random() * faults.delay_seconds if late else 0.0)
            queue = self.lanes[lane]
            if held:
                queue.append(_Underway(now + faults.hold_seconds, deliver, other))
            else:
                queue.append(_Underway(due, deliver))
            if doubled:
                queue.append(_Underway(due, again))
        self.release(now)

    def release(self, now: float) -> float | None:
        """Delivers what is due; when the next is due, None if nothing is under way."""
        moved = True
        while moved:
            moved = False
            for lane, queue in list(self.lanes.items()):
                while queue and queue[0].due <= now:
                    queue.popleft().deliver()
                    self._let_go(lane, now)
                    moved = True
        upcoming: list[float] = []
        for lane, queue in list(self.lanes.items()):
            if queue:
                upcoming.append(queue[0].due)
            else:
                del self.lanes[lane]
        return min(upcoming, default=None)

    def _let_go(self, passed: Lane, now: float) -> None:
        for queue in self.lanes.values():
            if queue and queue[0].behind == passed:
                queue[0].behind, queue[0].due = None, now


def _per_update(faults: Faults) -> tuple[float, float, float, float]:
    return faults.drop, faults.delay, faults.duplicate, faults.swap
