"""A connection without a server: what it is to bring is put into it, what goes out through it is kept."""

import asyncio
from collections import defaultdict, deque
from collections.abc import Mapping
from typing import Any

from triagebot.channels.matrix.rooms import SyncResult
from triagebot.channels.matrix.seen import Room, Seen

BOT = "@wheels:shop.test"


class RecordedConnection:
    """`brings` are results of syncs, or what one raises, in order; after the last one nothing happens any more. `sent`
    holds the events of each room once, by transaction id; `fates` are used up one a request of a kind."""

    def __init__(self) -> None:
        self.user_id, self.name, self.cross_signed = BOT, "Wheel Bot", True
        self.brings: deque[SyncResult | Exception] = deque()
        self.synced_from: list[str | None] = []
        self.sent: dict[str, dict[str, Mapping[str, Any]]] = defaultdict(dict)
        self.fates: dict[str, deque[Exception]] = defaultdict(deque)
        self.asked: list[tuple[str, ...]] = []
        self.known: dict[str, Room] = {}
        self.people: dict[str, int] = {}
        self.alone: dict[str, str] = {}
        self.files: dict[str, bytes] = {}
        self.aliases: dict[str, str] = {}
        self.more = asyncio.Event()

    def bring(self, *results: SyncResult | Exception) -> None:
        self.brings.extend(results)
        self.more.set()

    def messages(self, room: str, kind: str = "") -> list[Mapping[str, Any]]:
        """In order, of a type of message."""
        return [content for content in self.sent[room].values() if kind in ("", content.get("msgtype"))]

    def _happens(self, what: str, *about: str) -> None:
        self.asked.append((what, *about))
        if self.fates[what]:
            raise self.fates[what].popleft()

    # --- what a channel uses ----------------------------------------------------------------------------------------

    async def open(self) -> None:
        self._happens("open")

    async def sync(self, place: str | None) -> SyncResult:
        self.synced_from.append(place)
        while not self.brings:
            self.more.clear()
            await self.more.wait()
        brought = self.brings.popleft()
        if isinstance(brought, Exception):
            raise brought
        return brought

    async def named(self, alias: str) -> str:
        self._happens("named", alias)
        return self.aliases.get(alias, "")

    async def send(self, room: str, kind: str, content: Mapping[str, Any], tx: str) -> str:
        self._happens("send", kind)
        assert self.sent[room].setdefault(tx, content) == content, "one id for two events"
        return f"${tx}"

    async def upload(self, data: bytes, media_type: str, encrypted: bool) -> Mapping[str, Any]:
        self._happens("upload", media_type)
        url = f"mxc://shop.test/{len(self.files)}"
        self.files[url] = data
        return {"url": url, "key": {}, "iv": "", "hashes": {}} if encrypted else {"url": url}

    async def fetch(self, file: Mapping[str, Any], most: int) -> bytes:
        self._happens("fetch")
        return self.files[file["url"]]

    async def typing(self, room: str, on: bool) -> None:
        self._happens("typing", room, str(on))

    async def read(self, room: str, event: str) -> None:
        self._happens("read", room, event)

    async def join(self, room: str, via: str = "") -> bool:
        self._happens("join", room)
        return True

    async def leave(self, room: str, reason: str = "") -> None:
        self._happens("leave", room, *([reason] if reason else []))

    def room_with(self, user: str) -> str:
        return self.alone.get(user, "")

    def rooms(self) -> tuple[str, ...]:
        return tuple(self.known)

    def room(self, room: str) -> Room | None:
        return self.known.get(room)

    def members(self, room: str) -> int:
        return self.people.get(room, 2)

    async def ask_for_key(self, seen: Seen) -> None:
        self._happens("key", seen.id)

    async def close(self) -> None:
        self._happens("close")
