"""Several processes on one database: which of them serves a channel, so that one fetches its messages and sends there.

Rules of this file:
- a lease is renewed every `LOOK` seconds; one that nobody renewed for `store.leases.LASTS` is taken by another process;
- whoever marks a message as being sent, or takes in what was fetched, shows in that transaction that the lease is still
  theirs (`check`): a process that was stopped and goes on later is refused;
- just before a message is sent, the process's own clock is asked, too (`good`): it goes on while a process is stopped;
- a process is known by its data folder, which only one may serve from: one that is started again takes up its own
  leases at once.
"""

import logging
import os
import secrets
import time
from collections.abc import Awaitable, Callable, Iterable
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from triagebot.delivery.process_lock import LOCK
from triagebot.errors import StoreError
from triagebot.store.leases import LASTS, Leases
from triagebot.store.whole_file import write_whole

if TYPE_CHECKING:
    from triagebot.store import Transaction
    from triagebot.store.engines import Database

T = TypeVar("T")

log = logging.getLogger(__name__)

#: Seconds between two looks.
LOOK = 2.0
#: In a data folder: what tells this process from those of other folders.
OWN = "desk.own"
#: What the leases begin with by which processes are counted.
PROCESS = "process "


class NotHeldError(StoreError):
    """Another process serves this channel now, or may at any moment; what was under way is left to it."""


def holder_in(folder: Path) -> str:
    """What the process of a data folder is called. A copy of the folder has another name. Raises OSError."""
    path = folder / OWN
    if not path.exists():
        write_whole(path, secrets.token_hex(16).encode("ascii"))
    lock = (folder / LOCK).stat()
    told = f"{path.read_text('ascii', 'replace')} {os.uname().nodename} {lock.st_dev} {lock.st_ino}"
    return sha256(told.encode()).hexdigest()[:32]


class Lessee:
    """One process. `do` has a job of the store's done; channels are known by their names."""

    def __init__(
        self, do: "Callable[[Callable[[Transaction], Any]], Awaitable[Any]]", database: "Database", holder: str
    ) -> None:
        self._do, self.database, self.holder = do, database, holder
        #: The number of each lease that is held; 0 for one that is not. What is not here needs no lease.
        self._numbers: dict[str, int] = {}
        #: Until when each lasts, by this machine's clock.
        self._until: dict[str, float] = {}
        self._fetched: set[str] = set()
        self._mine = 0
        #: How many processes were there at the last look.
        self.processes = 1

    def add(self, channel: str, *, fetches: bool) -> None:
        """A channel is served under a lease; `fetches` if only its holder takes messages in."""
        self._numbers.setdefault(channel, 0)
        if fetches:
            self._fetched.add(channel)

    def _of(self, tx: "Transaction") -> Leases:
        return Leases(tx, self.database)

    def good(self, channel: str) -> bool:
        """Whether the lease has not run out by this machine's clock."""
        number = self._numbers.get(channel)
        return number is None or (number > 0 and _seconds() < self._until[channel])

    def check(self, tx: "Transaction", channel: str) -> None:
        """Raises NotHeldError where the lease of a channel is not this process's. Called from the writer's thread."""
        number = self._numbers.get(channel)
        if number is not None and not (number and self._of(tx).holds(channel, number)):
            raise NotHeldError(f"{channel}: another process serves it now")

    def holds(self, tx: "Transaction", channel: str) -> bool:
        """Whether `check` raises nothing."""
        try:
            self.check(tx, channel)
        except NotHeldError:
            return False
        return True

    def with_fetched(self, channel: str, job: "Callable[[Transaction], T]", tx: "Transaction") -> T:
        """A job with what came from a channel, after `check` where that was fetched: what is brought to the web server
        may come to any process."""
        if channel in self._fetched:
            self.check(tx, channel)
        return job(tx)

    async def look(self, channel: str) -> bool:
        """Renews a lease, or takes it where nobody holds it; gives whether it is held. Raises StoreError."""
        asked, number = _seconds(), self._numbers[channel]
        if number and not (self.good(channel) and await self._do(lambda tx: self._of(tx).renew(channel, number))):
            self.lose(channel)
            return False
        if not number:
            number = await self._do(lambda tx: self._of(tx).take(channel, self.holder)) or 0
        self._until[channel] = asked + LASTS.total_seconds()
        self._numbers[channel] = number
        return number > 0

    def lose(self, channel: str) -> None:
        """What is under way is refused from now on."""
        self._numbers[channel] = 0

    async def count(self) -> None:
        """Looks how many processes there are, and says that this one is. Raises StoreError."""

        def counted(tx: "Transaction") -> tuple[int, int]:
            own, name = self._of(tx), PROCESS + self.holder
            there = self._mine if self._mine and own.renew(name, self._mine) else own.take(name, self.holder) or 0
            return there, own.beginning(PROCESS)

        self._mine, self.processes = await self._do(counted)

    async def close(self) -> None:
        """Others may take at once what is held here."""
        held = [*self._numbers.items(), (PROCESS + self.holder, self._mine)]
        for channel in self._numbers:
            self.lose(channel)
        try:
            await self._do(lambda tx: _give_up(self._of(tx), held))
        except StoreError as error:
            log.warning("leases run out by themselves: %s", error)


def elsewhere(tx: "Transaction", lessee: Lessee | None) -> frozenset[str]:
    """The channels that another process served last."""
    return frozenset() if lessee is None else Leases(tx, lessee.database).of_others(lessee.holder)


def _give_up(leases: Leases, held: Iterable[tuple[str, int]]) -> None:
    for channel, number in held:
        if number:
            leases.give_up(channel, number)


def _seconds() -> float:
    """A clock that nobody sets, and that goes on while this process, or the machine, is stopped."""
    return time.clock_gettime(time.CLOCK_BOOTTIME)
