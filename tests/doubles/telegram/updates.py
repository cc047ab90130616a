"""What waits for one bot: updates in the order of their numbers, until the bot confirms them or their time is over.

The rules of receiving are here: an update is forgotten only when the bot asks for a later one, or, once asked for, when
its life is over; updates are kept in lanes (a chat's messages, a person's presses), which a webhook gets side by side.
"""

import math
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import islice, takewhile
from typing import Any

from tests.doubles.telegram.rules import NUMBERS_LIVE, USUAL_UPDATES

#: Which queue an update stands in: ("message", chat) or ("press", person).
Lane = tuple[str, int]


@dataclass(slots=True)
class Update:
    number: int
    kind: str
    lane: Lane
    expires: float
    body: dict[str, Any]
    #: How often a webhook refused it, and from when on it may be tried again.
    refused: int = 0
    not_before: float = 0.0

    def json(self) -> dict[str, Any]:
        return {"update_id": self.number, self.kind: self.body}


@dataclass(slots=True)
class Webhook:
    url: str
    secret: str
    connections: int
    last_error: str = ""
    last_error_at: float = 0.0


#: How a held poll ends when its connection is cut.
CUT = "cut"


@dataclass(eq=False)
class Poll:
    """One getUpdates that is held; `ended` names the refusal that it is answered with, or is `CUT`."""

    wake: Callable[[], None]
    ended: str = ""


@dataclass
class Waiting:
    """The updates of one bot, in the order of their numbers, and once more by lane."""

    number: int
    updates: dict[int, Update] = field(default_factory=dict)
    lanes: dict[Lane, dict[int, Update]] = field(default_factory=dict)
    again: deque[Update] = field(default_factory=deque)
    allowed: tuple[str, ...] = USUAL_UPDATES
    webhook: Webhook | None = None
    poll: Poll | None = None
    #: Wakes whoever delivers to the webhook.
    wake_webhook: Callable[[], None] = lambda: None
    _soonest: float = math.inf
    _latest: float = math.inf

    def add(self, kind: str, lane: Lane, now: float, expires: float, body: dict[str, Any]) -> Update | None:
        """The update with its number; None if the bot asked not to get this kind."""
        if kind not in self.allowed:
            return None
        if now - self._latest >= NUMBERS_LIVE:
            self.forget_old(now)
            self.number //= 2
        self._latest = now
        update = Update(self.number, kind, lane, expires, body)
        self.number += 1
        self.updates[update.number] = update
        self.lanes.setdefault(lane, {})[update.number] = update
        self._soonest = min(self._soonest, expires)
        self.wake()
        return update

    def repeat(self, update: Update) -> None:
        """Gives it out once more under the same number, however far the bot has confirmed."""
        self.again.append(update)
        self.wake()

    def forget(self, number: int) -> None:
        update = self.updates.pop(number, None)
        if update is not None:
            del self.lanes[update.lane][number]
            if not self.lanes[update.lane]:
                del self.lanes[update.lane]

    def forget_all(self) -> None:
        self.updates.clear()
        self.lanes.clear()
        self.again.clear()

    def forget_old(self, now: float) -> None:
        if now >= self._soonest:
            for number in [number for number, update in self.updates.items() if update.expires <= now]:
                self.forget(number)
            self._soonest = min((update.expires for update in self.updates.values()), default=math.inf)

    def wake(self) -> None:
        if self.poll is not None:
            self.poll.wake()
        self.wake_webhook()

    def fetch(self, offset: int, limit: int, now: float) -> list[Update]:
        """As getUpdates answers. A positive offset confirms all before it; a negative one counts from the end."""
        self.forget_old(now)
        if offset < 0:
            offset = next(iter(list(self.updates)[offset:]), 0)
        if offset > 0:
            for number in list(takewhile(lambda number: number < offset, self.updates)):
                self.forget(number)
        repeated = [self.again.popleft() for _ in range(min(limit, len(self.again)))]
        return repeated + list(islice(self.updates.values(), limit - len(repeated)))

    def heads(self, now: float) -> Iterator[Update]:
        """The first update of every lane, for a webhook: the next of a lane follows when this one was taken."""
        self.forget_old(now)
        return (next(iter(lane.values())) for lane in list(self.lanes.values()))

    def end_poll(self, refusal: str) -> None:
        if self.poll is not None:
            self.poll.ended = refusal
            self.poll.wake()
            self.poll = None
