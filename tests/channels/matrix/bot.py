"""The bot's end of a connection, as a channel uses it: syncs, keeps its place, and everything that it saw."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from itertools import count
from pathlib import Path
from typing import Any

from tests.channels.matrix.person import Person
from triagebot.channels.matrix.connection import Connection
from triagebot.channels.matrix.seen import Seen
from triagebot.store.encryption import Cipher

_TX = count(1)
PATIENCE = 300.0  # seconds


class Bot:
    """`seen`, `gone` and `moved` are all that its syncs brought, in order; `place` is what a delivery would have
    kept."""

    def __init__(self, url: str, user: str, folder: Path, cipher: Cipher, **login: Any) -> None:
        self.made = {"server": url, "user": user, "data": folder, "cipher": cipher, **login}
        self.connection = Connection(**self.made)
        self.place: str | None = None
        self.seen: list[Seen] = []
        self.gone: list[str] = []
        self.moved: list[tuple[str, str]] = []

    @property
    def user(self) -> str:
        return self.connection.user_id

    async def start(self) -> None:
        await self.connection.open()
        if self.place is None:
            await self.sync()

    async def restart(self, **other: Any) -> None:
        """A new process on the same folder would begin like this."""
        await self.connection.close()
        self.connection = Connection(**{**self.made, **other})
        await self.start()

    async def sync(self, accept: bool = True, keep: bool = True) -> list[Seen]:
        """One sync; joins what it is invited to. Without `keep` the place stays, as when it could not be written."""
        result = await asyncio.wait_for(self.connection.sync(self.place), PATIENCE)
        for invite in result.invites if accept else ():
            await self.connection.join(invite.room)
        if keep:
            self.place = result.place
            self.seen += result.seen
            self.gone += result.gone
            self.moved += result.moved
        return list(result.seen)

    async def sees(self, wanted: Callable[[Seen], bool]) -> Seen:
        """The first thing seen that fits; syncs until there is one."""
        return await self.until(lambda: next(filter(wanted, self.seen), None))

    async def until(self, found: Callable[[], Any]) -> Any:
        async with asyncio.timeout(PATIENCE):
            while not (it := found()):
                await self.sync()
        return it

    async def hears(self, *texts: str) -> list[Seen]:
        """Words, until the last of `texts` is there."""
        await self.sees(lambda seen: seen.text == texts[-1])
        return self.seen

    async def say(self, room: str, text: str, tx: str = "", **more: Any) -> str:
        content: Mapping[str, Any] = {"msgtype": "m.text", "body": text, **more}
        return await self.connection.send(room, "m.room.message", content, tx or f"tx{next(_TX)}")

    async def meet(self, person: Person, encrypted: bool = False, group: bool = False) -> str:
        """A room that the person made and the bot came into; each knows the other's devices."""
        make = person.create_group_room if group else person.create_direct_room
        room = await make(self.user, encrypted=encrypted)
        await self.until(lambda: self.connection.room(room))
        await person.sees_join(room, self.user)
        await self.until(lambda: f'"{room}"' in (self.place or ""))
        return room


Bots = Callable[..., Awaitable[Bot]]
