"""A delivery, its store and a channel, for tests that talk to it without being asynchronous themselves, and crash
it."""

import asyncio
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from datetime import timedelta
from itertools import count
from pathlib import Path
from typing import Any, TypeVar

from tests.delivery.recorded import RecordedChannel
from tests.store.fresh import open_fresh
from triagebot.cases.loaded import LoadedCase, Memory
from triagebot.conversation import Guide
from triagebot.delivery import Delivery, Received
from triagebot.handover import StaffRoom
from triagebot.messages import Incoming, Said
from triagebot.messages.message import Content
from triagebot.store import Store, Transaction
from triagebot.testing import Clock, Codes

T = TypeVar("T")

#: Seconds after which a test that waits for an event is taken to hang: only a test that fails takes so long.
HANGS = 120


class Dead(Exception):  # noqa: N818 - no error: the process that would write is no more
    """A person who writes after the crash."""


class MortalStore:
    """A store whose process dies at a moment that can be chosen; nothing is written afterwards."""

    def __init__(self, store: Store) -> None:
        self.store, self.folder, self.cipher, self.database = store, store.folder, store.cipher, store.database
        self.dead = False
        self.dies: str | None = None
        self.read, self.empty_log, self.log_is_due = store.read, store.empty_log, False
        self.note_forgotten = store.note_forgotten

    @contextmanager
    def begin(self, how: Callable[..., Transaction] = Transaction) -> Iterator[Transaction]:
        if self.dead:
            raise Dead
        with self.store.begin(how) as tx:
            yield tx
            if self.dies == "before the commit" or self.dead:
                self.dead = True
                raise Dead
        if self.dies == "after the commit":
            self.dead = True
            raise Dead

    def die(self) -> None:
        """Nothing more is written from now on."""
        self.dead = True

    def die_at_once(self) -> None:
        """Nor does the person who calls this get any further."""
        self.dead = True
        raise Dead


class LeapingLoop(asyncio.SelectorEventLoop):
    """Its time can leap, so that nobody waits for a timer, however far away."""

    leapt = 0.0

    def time(self) -> float:
        return super().time() + self.leapt


class Office:
    """Opened at once; `crash` leaves everything as it lies, and opens it again."""

    def __init__(
        self,
        folder: Path,
        guide: Guide,
        channel: RecordedChannel,
        clock: Clock | None = None,
        codes: Callable[[], str] | None = None,
        rooms: tuple[StaffRoom, ...] = (),
    ) -> None:
        self.rooms = rooms
        self.folder, self.guide, self.channel = folder, guide, channel
        self.clock, self.codes, self.keys = clock or Clock(), codes or Codes(), count(1)
        self.loop = LeapingLoop()
        self.runner = asyncio.Runner(loop_factory=lambda: self.loop)
        self.open()

    def run(self, work: Coroutine[Any, Any, T]) -> T:
        return self.runner.run(work)

    def open(self) -> None:
        self.store = MortalStore(open_fresh(self.folder, self.folder.with_name("key")))
        self.delivery = Delivery(
            self.guide,
            self.store,  # type: ignore[arg-type]
            self.clock,
            self.codes,
            try_again=(0.0, 0.0),
            grace=1.0,
            rooms=self.rooms,
        )
        self.run(self._open())

    async def _open(self) -> None:
        await self.delivery.__aenter__()
        await self.delivery.serve(self.channel)

    def close(self) -> None:
        self.run(self.delivery.__aexit__(None, None, None))
        self.store.store.close()

    def crash(self) -> None:
        self.store.die()
        self.close()
        self.open()

    def incoming(self, person: str, content: Content, key: str | None = None) -> Incoming:
        key = key or f"key {next(self.keys)}"
        return Incoming(self.channel.name, key, person, {"chat": person}, content, self.clock())

    def bring(self, person: str, content: Content | str, key: str | None = None) -> Received:
        """Receives one message, and waits until all that comes of it has gone out."""
        said = Said(content) if isinstance(content, str) else content
        return self.run(self._bring(self.incoming(person, said, key)))

    def bring_and_die(self, person: str, text: str) -> None:
        """Receives a message in the course of which the process dies."""

        async def bring() -> None:
            await self.delivery.receive(self.incoming(person, Said(text)))
            await self.until_dead()

        self.run(bring())

    async def until_dead(self) -> None:
        """Lets what is at work go on until it has died of it."""
        while not self.store.dead:
            await self.a_moment()

    @staticmethod
    async def a_moment() -> None:
        """Lets whatever else is at work go on for a moment."""
        await asyncio.sleep(0.001)

    def leap(self, seconds: float) -> None:
        """The timers of so many seconds run out at once; `clock`, the one on the wall, is not touched."""
        self.loop.leapt += seconds

    def until(self, happened: Callable[[], object]) -> None:
        """Lets whatever is at work go on until this has happened."""

        async def go_on() -> None:
            async with asyncio.timeout(HANGS):
                while not happened():
                    await self.a_moment()

        self.run(go_on())

    def settle(self) -> None:
        """Lets everything that can go on without a timer go on: what the loop holds, and what was posted to the
        writer."""

        async def go_on() -> None:
            for _ in range(5):
                await self.delivery._do(lambda tx: None)
                for _ in range(20):
                    await asyncio.sleep(0)

        self.run(go_on())

    async def _bring(self, incoming: Incoming) -> Received:
        received = await self.delivery.receive(incoming)
        await self.delivery.idle()
        return received

    def tidied(self, days: int) -> int:
        """How many rows go that are so old, as if everything were kept for so long."""
        kept = dict.fromkeys(self.guide.shop.kept, timedelta(days=days))
        return sum(self.run(self.delivery.tidy({**kept, "cases": timedelta(days=9999)})).values())

    def held(self, person: str) -> LoadedCase | None:
        with self.store.store.begin() as tx:
            return Memory().current(tx, tx.lookup_hash(f"{self.channel.name}:{person}"))

    def rows(self, table: str, columns: str) -> list[tuple[Any, ...]]:
        with self.store.store.read() as view:
            found = view.connection.exec_driver_sql(f"SELECT {columns} FROM {table} ORDER BY id")
            return [tuple(row) for row in found]
