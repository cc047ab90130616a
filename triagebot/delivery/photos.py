"""Fetches the photos that people sent from their channels, and keeps a picture of each for the member who will look.

- Nothing polls: photos are fetched when the turn that took them is committed, when their channel is opened, and by
  timers. What was under way in a crash waits on the disk, and is fetched at the next opening.
- A channel has `AT_ONCE` photos under way. When it cannot give one just now, all of it rests, longer each time, and
  then one photo alone finds out whether it can again. One that waits for longer than `TOO_LATE` is lost.
- An attempt is counted on the disk before it begins, and is taken off again once it is known to be no fault of ours.
  So the count is of attempts that killed us, or on which we failed: after `MOST_FAULTS` of them a photo is lost; and
  when telling of that fails as well, nobody is told.
- A channel that is brought the file itself has a picture made of it at once (`cleaned`), and hands that over
  (`handed`): it is kept in the transaction of the turn, and there is nothing to fetch.
- The file as it came is never kept. A picture of ours is made of it in another process (see `image_cleaning`), one at a
  time, since a large one takes much memory.
"""

import asyncio
import logging
import os
import sys
from asyncio.subprocess import DEVNULL, PIPE
from base64 import b64decode, b64encode
from collections import deque
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

from triagebot.delivery import image_cleaning, outbox
from triagebot.delivery.counts import Counts, place_of
from triagebot.errors import StoreError
from triagebot.messages.message import Gone, Refused, RetryAfter, Transient
from triagebot.store.photos import MOST_OF_A_CASE, Lost, Photos, Waiting

if TYPE_CHECKING:
    from triagebot.store import Transaction

log = logging.getLogger(__name__)

#: So many photos of a channel are under way at the same time; so many attempts may be faults.
AT_ONCE, MOST_FAULTS = 2, 5
#: How long a photo may wait.
TOO_LATE = timedelta(days=1)
#: Seconds for fetching one photo, and for making a picture of it.
FETCHED_WITHIN, CLEANED_WITHIN = 120.0, 60.0

_PROGRAM = Path(image_cleaning.__file__).resolve()


#: What stands in a photo's place on its channel when the picture that is kept of it is handed over along with it.
_HANDED = "picture"


def handed(picture: bytes) -> Mapping[str, Any]:
    """The place of a photo for which there is nothing to fetch: `picture` is what `cleaned` made of it."""
    return {_HANDED: b64encode(picture).decode("ascii")}


def picture_in(place: Mapping[str, Any]) -> bytes | None:
    """The picture that was handed over; None where one is to be fetched."""
    return b64decode(place[_HANDED]) if _HANDED in place else None


def without_picture(place: Mapping[str, Any]) -> Mapping[str, Any]:
    """What else is known of a photo that was handed over."""
    return {name: value for name, value in place.items() if name != _HANDED}


class TooLarge(Refused):
    """A photo is larger than was asked for, or than the channel gives."""


@runtime_checkable
class Fetching(Protocol):
    """A channel from which photos can be fetched."""

    @property
    def name(self) -> str:
        """What its photos are filed under, such as `telegram`."""

    async def fetch(self, place: Mapping[str, Any], most: int) -> bytes:
        """The file at a place that the channel gave with a `Sent`, of at most so many bytes.

        Raises RetryAfter, Transient, Gone, Refused (`TooLarge` among them); never holds much more than `most` bytes.
        """


async def cleaned(data: bytes, within: float = CLEANED_WITHIN) -> bytes:
    """The picture that is kept of a photo, made in a process of its own. Raises image_cleaning.Unfit; TimeoutError when
    it takes longer than so many seconds; OSError when that process cannot be started, or something ended it."""
    open_to_it = {name: value for name, value in os.environ.items() if not name.startswith("TRIAGEBOT_")}
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-P", str(_PROGRAM)),  # -P: the modules beside that file must not hide others
        stdin=PIPE,
        stdout=PIPE,
        stderr=DEVNULL,
        env=open_to_it,
    )
    try:
        picture, _ = await asyncio.wait_for(process.communicate(data), within)
    finally:
        if process.returncode is None:
            with suppress(ProcessLookupError):
                process.kill()
            await process.wait()
    if process.returncode in image_cleaning.STATUS:
        raise image_cleaning.Unfit(image_cleaning.STATUS[process.returncode])
    if process.returncode:
        raise ChildProcessError(f"ended with status {process.returncode}")
    return picture


@dataclass(eq=False, slots=True)
class _Lane:
    """One channel: the photos that are `held` here, which are `ready` to be fetched, under way (`tasks`), or put aside
    for a while (`timers`). `rest` while all of it rests, after so many `failures` in a row."""

    channel: Fetching
    held: set[int] = field(default_factory=set)
    ready: deque[int] = field(default_factory=deque)
    tasks: set["asyncio.Task[None]"] = field(default_factory=set)
    timers: dict[int, asyncio.TimerHandle] = field(default_factory=dict)
    rest: asyncio.TimerHandle | None = None
    failures: int = 0


class PhotoFetcher:
    """Fetches for every channel that is opened. `write` posts a job to the writer, where `settled` is told of
    each photo whether it was kept (None: it cannot be had just now); used in one event loop only."""

    def __init__(
        self,
        write: "Callable[[Callable[[Transaction], Any]], Awaitable[Any]]",
        clock: Callable[[], datetime],
        counts: Counts,
        settled: "Callable[[Transaction, int, bool | None], None]" = lambda tx, photo, kept: None,
    ) -> None:
        self._write = write
        self._settled = settled
        self._clock = clock
        self._counts = counts
        self._lanes: dict[str, _Lane] = {}
        self._one_at_a_time = asyncio.Lock()
        self._closing = False
        self._idle = asyncio.Event()
        self._idle.set()

    def open(self, channel: Fetching) -> None:
        """Fetches what comes from now on; what waits already is to be told by `wake`."""
        self._lanes[channel.name] = _Lane(channel)

    def shut(self, channel: str) -> None:
        """Another process fetches for a channel from now on."""
        lane = self._lanes.pop(channel, None)
        if lane is not None:
            for timer in (lane.rest, *lane.timers.values()):
                if timer is not None:
                    timer.cancel()
            for task in lane.tasks:
                task.cancel()
            lane.ready.clear()

    def wake(self, channel: str, number: int) -> None:
        """A photo waits, which may be known already."""
        lane = self._lanes.get(channel)
        if lane is None or self._closing or number in lane.held:
            return  # without a lane it waits until the channel is opened
        lane.held.add(number)
        lane.ready.append(number)
        self._idle.clear()
        self._begin(lane)

    async def idle(self) -> None:
        """Until no photo is left to fetch, those that are tried again later included."""
        await self._idle.wait()

    async def close(self, grace: float) -> None:
        """Begins nothing more, and gives what is under way so many seconds to end; what does not waits on the disk."""
        self._closing = True
        for lane in self._lanes.values():
            for timer in (lane.rest, *lane.timers.values()):
                if timer is not None:
                    timer.cancel()
        tasks = [task for lane in self._lanes.values() for task in lane.tasks]
        if tasks:
            _, late = await asyncio.wait(tasks, timeout=grace)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)

    # --- lanes ----------------------------------------------------------------------------------------------------

    def _begin(self, lane: _Lane) -> None:
        most = AT_ONCE if not lane.failures else 1
        while lane.ready and len(lane.tasks) < most and lane.rest is None and not self._closing:
            task = asyncio.create_task(self._attempt(lane, lane.ready.popleft()))
            lane.tasks.add(task)
            task.add_done_callback(partial(self._ended, lane))

    def _ended(self, lane: _Lane, task: "asyncio.Task[None]") -> None:
        lane.tasks.discard(task)
        self._begin(lane)
        if not any(each.held for each in self._lanes.values()):
            self._idle.set()

    def _rest(self, lane: _Lane, number: int, why: str, seconds: float = 0.0) -> None:
        """Nothing more is begun for a while; the photo comes again after those that wait behind it."""
        lane.ready.append(number)
        if self._closing:
            return
        lane.failures += 1
        if lane.failures == 1:
            log.warning("%s: photos cannot be fetched now (%s); tried again until it works", lane.channel.name, why)
        loop = asyncio.get_running_loop()
        until = loop.time() + max(seconds, outbox.pause(lane.failures))
        if lane.rest is not None:
            until = max(until, lane.rest.when())
            lane.rest.cancel()
        lane.rest = loop.call_at(until, self._rested, lane)

    def _rested(self, lane: _Lane) -> None:
        lane.rest = None
        self._begin(lane)

    def _put_aside(self, lane: _Lane, number: int, seconds: float) -> None:
        """The photo comes again after a while; others need not wait for it."""
        if not self._closing:
            lane.timers[number] = asyncio.get_running_loop().call_later(seconds, self._again, lane, number)

    def _again(self, lane: _Lane, number: int) -> None:
        del lane.timers[number]
        lane.ready.append(number)
        self._begin(lane)

    def _works(self, lane: _Lane) -> None:
        if lane.failures:
            log.warning("%s: photos can be fetched again", lane.channel.name)
        lane.failures = 0

    # --- one photo ------------------------------------------------------------------------------------------------

    async def _attempt(self, lane: _Lane, number: int) -> None:
        photo: Waiting | None = None
        try:
            photo = await self._write(lambda tx: Photos(tx).begin(number))
            if photo is None or await self._ends(lane, photo):
                lane.held.discard(number)
        except asyncio.CancelledError:
            if photo is not None:
                await self._write(lambda tx: Photos(tx).later(number))
            raise
        except StoreError as error:
            self._rest(lane, number, str(error))
        except Exception as error:
            attempts = photo.attempts if photo is not None else 1
            log.error("%s: photo %d failed, attempt %d: %s", lane.channel.name, number, attempts, place_of(error))
            self._put_aside(lane, number, outbox.pause(attempts))

    async def _ends(self, lane: _Lane, photo: Waiting) -> bool:
        """Fetches a photo; gives whether it waits no more. Raises StoreError, and whatever we fail on."""
        if photo.beside >= MOST_OF_A_CASE:
            return await self._lose(lane, photo, "too-many")
        if photo.attempts > MOST_FAULTS:
            return await self._lose(lane, photo, "faulty")
        try:
            async with asyncio.timeout(FETCHED_WITHIN):
                data = await lane.channel.fetch(photo.place, image_cleaning.MOST_BYTES)
        except (RetryAfter, Transient, TimeoutError) as error:
            return await self._later(lane, photo, error)
        except (Gone, Refused) as error:
            self._works(lane)
            return await self._lose(lane, photo, "too-large" if isinstance(error, TooLarge) else "refused", str(error))
        self._works(lane)
        try:
            async with self._one_at_a_time:
                picture = await cleaned(data)
        except image_cleaning.Unfit as unfit:
            return await self._lose(lane, photo, unfit.why)
        return await self._keep(lane, photo, picture)

    async def _keep(self, lane: _Lane, photo: Waiting, picture: bytes) -> bool:
        try:
            there = await self._write(partial(self._put, photo.id, picture))
        except StoreError:  # a full disk, which may yet take the few bytes that make this attempt count for nothing
            await self._write(lambda tx: Photos(tx).later(photo.id))
            raise
        if there:
            self._counts.photos_kept += 1
            log.info("%s: photo %d is kept, %d kB", lane.channel.name, photo.id, len(picture) // 1000)
        return True

    async def _lose(self, lane: _Lane, photo: Waiting, reason: Lost, detail: str = "") -> bool:
        tells = photo.attempts <= MOST_FAULTS + 1  # one attempt to tell of what failed; then it must end
        if await self._write(partial(self._give_up, photo.id, reason, tells)):
            self._counts.photos_lost += 1
            said = f"{reason}: {detail}" if detail else reason
            log.warning("%s: photo %d is lost (%s)", lane.channel.name, photo.id, said)
        return True

    def _put(self, photo: int, picture: bytes, tx: "Transaction") -> bool:
        there = Photos(tx).kept(photo, picture)
        if there:
            self._settled(tx, photo, True)
        return there

    def _give_up(self, photo: int, reason: Lost, tells: bool, tx: "Transaction") -> bool:
        lost = Photos(tx).lost(photo, reason)
        if lost and tells:
            self._settled(tx, photo, False)
        return lost

    def _put_off(self, photo: int, tx: "Transaction") -> None:
        Photos(tx).later(photo)
        self._settled(tx, photo, None)

    async def _later(self, lane: _Lane, photo: Waiting, error: Exception) -> bool:
        if self._clock() - photo.sent_at > TOO_LATE:
            return await self._lose(lane, photo, "too-late", str(error))
        await self._write(partial(self._put_off, photo.id))
        wait = error.seconds if isinstance(error, RetryAfter) else 0.0
        self._rest(lane, photo.id, str(error) or "it took too long", wait)
        return False
