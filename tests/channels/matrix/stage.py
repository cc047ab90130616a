"""The channel on a delivery of its own, on a real homeserver; and somebody who knows a wheel."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests.channels.matrix.conftest import PASSWORD
from tests.channels.matrix.device import PATIENCE
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.person import Person
from tests.channels.wheels import FOUR_NOTCHES
from tests.conversation.guides import shipped_guide
from tests.store.fresh import open_fresh
from tests.store.reading import current_case
from triagebot.channels.matrix import Matrix, connected
from triagebot.channels.matrix.rooms import SyncResult
from triagebot.delivery import Delivery
from triagebot.handover import StaffRoom
from triagebot.settings import MatrixAccount
from triagebot.store import Store

Stages = Callable[..., Awaitable["Stage"]]


@dataclass
class Stage:
    """A bot at work; `restart` is a new process on the same folder. `taken`: the events that it has taken in since."""

    account: MatrixAccount
    folder: Path
    staff_room: str = ""
    store: Store = field(init=False)
    delivery: Delivery = field(init=False)
    channel: Matrix = field(init=False)
    syncs: int = field(init=False)
    taken: set[str] = field(init=False)
    _open: AsyncExitStack = field(init=False)

    @property
    def user(self) -> str:
        return self.account.user

    async def start(self) -> None:
        async with AsyncExitStack() as stack:
            self.store = stack.enter_context(open_fresh(self.folder / "data", self.folder / "triagebot.key"))
            guide = shipped_guide()
            rooms = (StaffRoom("matrix", {"room": self.staff_room}),) if self.staff_room else ()
            self.delivery = Delivery(guide, self.store, try_again=(0.05, 0.05), grace=2.0, rooms=rooms)
            self.channel = connected(self.account, guide, self.delivery, self.store, "en", self.staff_room)
            self._count_syncs()
            stack.push_async_callback(self.channel.close)
            await stack.enter_async_context(self.delivery)
            await self.channel.open()
            await self.delivery.serve(self.channel)
            await stack.enter_async_context(self._running())
            self._open = stack.pop_all()

    def _count_syncs(self) -> None:
        connection = self.channel._connection
        sync, self.syncs, self.taken = connection.sync, 0, set()
        last: set[str] = set()

        async def counted(place: str | None) -> SyncResult:
            self.syncs += 1
            self.taken |= last  # the next sync begins once all of the last one is on the disk
            result = await sync(place)
            last.clear()
            last.update(seen.id for seen in result.seen)
            return result

        connection.sync = counted  # type: ignore[method-assign]

    @asynccontextmanager
    async def _running(self) -> AsyncIterator[None]:
        running = asyncio.create_task(self.channel.run())
        await asyncio.wait_for(self.channel._opened.wait(), PATIENCE)
        try:
            yield
        finally:
            self.channel.stop()
            await running

    async def stop(self) -> None:
        await self._open.aclose()

    async def restart(self) -> None:
        await self.stop()
        await self.start()

    async def quiet(self) -> None:
        """Until all that was synced so far is answered, and nothing is left to do beside the answers."""
        presence, sender = self.channel._presence, self.channel._sender
        while True:
            await self.delivery.idle()
            beside = [*presence._under_way, *sender._numbering.values(), *self.channel._joining.values()]
            if not beside:
                return
            await asyncio.wait(beside)

    async def synced(self) -> None:
        """Until what a restart found is taken in: the next sync has begun."""
        await self.until(lambda: self.syncs > 1)

    async def until(self, found: Callable[[], object]) -> None:
        async with asyncio.timeout(PATIENCE):
            while not found():
                await asyncio.sleep(0.01)

    async def meet(self, person: Person, encrypted: bool = False) -> str:
        """A direct room, in which the bot has said hello and asked its first question."""
        room = await person.create_direct_room(self.user, encrypted=encrypted)
        await person.sees_join(room, self.user)
        return room

    def cases(self, *conversations: str) -> list[str]:
        """The codes of the cases of some conversations."""
        with self.store.read() as view:
            found = [current_case(view, f"matrix:{conversation}") for conversation in conversations]
        return [case.code if case is not None else "" for case in found]


def account(url: str, user: str, **more: object) -> MatrixAccount:
    return MatrixAccount(url, user, PASSWORD, "", **more)  # type: ignore[arg-type]


@dataclass
class Rider:
    """Somebody who answers what is asked: in words, or (`reacts`) by the number of the choice where there are some;
    `prefix` stands before each word, `bot` is who is heard where there are others."""

    person: Person
    room: str
    truth: Mapping[str, str] = field(default_factory=lambda: FOUR_NOTCHES)
    reacts: bool = False
    prefix: str = ""
    bot: str = ""
    asked: list[str] = field(default_factory=list)

    async def next(self) -> Heard:
        """What the bot says next, pictures aside that say only what they show."""

        def said(heard: Heard) -> bool:
            return heard.in_words and self.bot in ("", heard.sender)

        return await self.person.hears(said, room=self.room)

    async def say(self, text: str) -> Heard:
        await self.person.say(self.room, f"{self.prefix}{text}")
        return await self.next()

    async def answer(self, said: Heard) -> Heard:
        """Answers the question of a message; what the bot says to that."""
        question = said.body.rsplit("(🤷 I don’t know", 1)[0]
        answer = next(answer for part, answer in self.truth.items() if part in question)
        self.asked.append(answer)
        listed = [line.split(". ", 1) for line in said.body.splitlines() if line[:1].isdigit() and ". " in line]
        number = next((number for number, label in listed if label == answer), None)
        if self.reacts and number is not None:
            await self.person.react(self.room, said.event_id, f"{number}\ufe0f\u20e3")
            return await self.next()
        return await self.say(answer)

    async def to_the_end(self, said: Heard) -> Heard:
        """Answers until a remover is named and nothing more is asked."""
        for _ in range(25):
            if "I don’t know" not in said.body:
                return said
            said = await self.answer(said)
        raise AssertionError(said.body)
