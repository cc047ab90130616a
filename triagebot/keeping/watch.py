"""Whether the bot is well while it runs: the process, and whether it can take messages in and send.

Decided here and nowhere else:
- the process is well while its writer lives and the database is still the one that it opened: what is written into a
  folder that was moved away is found by nobody later;
- it is ready if, beyond that, something can be written now, every platform answered lately, and less waits than
  MOST_WAITING.

To look whether something can be written costs a commit, so what was found of that, of the platforms and of what waits
stands for STANDS seconds, however many ask. Whether the process is well is looked at each time.
"""

import asyncio
import time
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from triagebot.errors import StoreError
from triagebot.keeping.rows import Row
from triagebot.keeping.words import say
from triagebot.store.backlog import Backlog, backlogs
from triagebot.store.post import Post

if TYPE_CHECKING:
    from triagebot.delivery import Delivery
    from triagebot.messages import Channel
    from triagebot.store import Store

#: Seconds for which what was found stands, and that a write may take.
STANDS, WRITTEN_WITHIN = 2.0, 5.0
#: A platform that did not answer for so many seconds is out of reach. A quiet one answers twice a minute.
LATELY = 180.0
#: So many messages may wait, in and out together, before no more ought to be brought here.
MOST_WAITING = 5000
#: The name under which it is noted that something could be written.
PROBE = "probe"


@runtime_checkable
class Reaches(Protocol):
    """A channel with a platform elsewhere."""

    @property
    def reached(self) -> float | None:
        """Seconds since the platform last answered; None if it never has."""


class Watch:
    """Of one delivery and its store. `seconds` is a clock that nobody sets."""

    def __init__(self, delivery: "Delivery", store: "Store", seconds: Callable[[], float] = time.monotonic) -> None:
        self._delivery, self._store, self._seconds = delivery, store, seconds
        self._opened = store.database.identity()
        self._found: tuple[float, list[Row]] | None = None
        self._looking = asyncio.Lock()

    def healthy(self) -> list[Row]:
        """The rows about the process."""
        here = self._opened is not None and self._store.database.identity() == self._opened
        alive = self._delivery.writes
        return [
            Row("data", here, say("watch-data" if here else "watch-data-gone")),
            Row("writer", alive, say("watch-writer" if alive else "watch-writer-gone")),
        ]

    async def ready(self) -> list[Row]:
        """The rows about taking messages in and sending."""
        async with self._looking:
            if self._found is None or self._seconds() - self._found[0] > STANDS:
                rows = [await self._writing(), *platforms(self._delivery.channels)]
                self._found = self._seconds(), [*rows, await asyncio.to_thread(self._waiting)]
            return [*self.healthy(), *self._found[1]]

    async def _writing(self) -> Row:
        probe = self._delivery.do(lambda tx: Post(tx).read_to(PROBE, ""))
        try:
            await asyncio.wait_for(probe, WRITTEN_WITHIN)
        except TimeoutError:
            return Row("database", False, say("watch-database-slow", seconds=round(WRITTEN_WITHIN)))
        except StoreError as error:
            return Row("database", False, str(error))
        return Row("database", True, say("watch-database"))

    def _waiting(self) -> Row:
        try:
            found = self.backlogs()
        except StoreError as error:
            return Row("backlog", False, str(error))
        count = sum(each.waiting for each in found)
        well = count <= MOST_WAITING
        name = "watch-backlog" if well else "watch-backlog-long"
        return Row("backlog", well, say(name, count=count, most=MOST_WAITING))

    def backlogs(self) -> tuple[Backlog, ...]:
        """What waits, by channel and way. Raises StoreError."""
        with self._store.read() as view:
            return backlogs(view, self._delivery.channels)

    def reached(self) -> dict[str, float | None]:
        """Seconds since each platform last answered."""
        channels = self._delivery.channels.items()
        return {name: channel.reached for name, channel in channels if isinstance(channel, Reaches)}


def platforms(channels: "Mapping[str, Channel]") -> list[Row]:
    """A row for each channel that has a platform elsewhere."""
    rows = []
    for name, channel in channels.items():
        if not isinstance(channel, Reaches):
            continue
        ago = channel.reached
        well = ago is not None and ago <= LATELY
        words = "watch-platform-never" if ago is None else "watch-platform" if well else "watch-platform-away"
        rows.append(Row(name, well, say(words, seconds=round(ago or 0))))
    return rows
