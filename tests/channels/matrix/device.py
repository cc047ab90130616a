"""One device of somebody with an ordinary client: it logs in, syncs, and keeps everything that can be seen.

Nothing of triagebot is used here, so that a fault there cannot hide itself. The client is nio's, with a loop of its own
around `sync`, since `sync_forever` spins without a pause on errors.
"""

import asyncio
from collections.abc import Callable
from itertools import count
from pathlib import Path
from time import monotonic
from typing import Any, Self, TypeVar

import aiohttp
import nio

from tests.channels.matrix.heard import Heard, from_ephemeral, from_event

T = TypeVar("T")
PATIENCE = 300.0  # seconds that somebody waits for something to be seen, unless told otherwise
_SYNC = {"room": {"timeline": {"limit": 500}, "state": {"lazy_load_members": False}}}


class Refused(Exception):  # noqa: N818 - what happened, not what kind of thing it is
    """The homeserver said no. `code` is its errcode."""

    def __init__(self, what: str, code: str | None) -> None:
        super().__init__(f"{what} ({code})")
        self.code = code


class Device:
    """One device of one user.

    `seen` is everything in order, one's own included; `hears` is for the next message. `gaps` counts timelines of which
    the server left something out: then `seen` is not whole.
    """

    def __init__(self, url: str, user_id: str, folder: Path, device_name: str = "phone") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        config = nio.AsyncClientConfig(
            backoff_factor=0.02, max_timeout_retry_wait_time=0.2, request_timeout=20, encryption_enabled=True
        )
        self.client = nio.AsyncClient(url, user_id, store_path=str(folder), config=config)
        self.user_id = user_id
        self.device_name = device_name
        self.seen: list[Heard] = []
        self.gaps = 0
        self._read_upto = 0
        self._news = asyncio.Event()
        self._typing: dict[str, frozenset[str]] = {}
        self._undecryptable: list[tuple[str, nio.MegolmEvent]] = []
        self._keys = asyncio.Lock()
        self._numbers = count(1)
        self._listening: asyncio.Task[None] | None = None

    # --- being there

    async def login(self, password: str) -> None:
        """A device of its own, its keys published, listening from now on."""
        given = await self.client.login(password, device_name=self.device_name)
        accepted("login", given)
        await self._sync_once(full_state=True)
        self._listening = asyncio.create_task(self._listen())

    async def close(self) -> None:
        if self._listening is not None:
            self._listening.cancel()
            await asyncio.gather(self._listening, return_exceptions=True)
        await self.client.close()
        if self.client.store is not None:
            self.client.store.database.close()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()

    async def _listen(self) -> None:
        while True:
            try:
                await self._sync_once(wait=10_000)
            except (Refused, aiohttp.ClientError, TimeoutError):
                await asyncio.sleep(0.1)

    async def _sync_once(self, wait: int = 0, full_state: bool = False) -> None:
        known = set(self.client.rooms)
        response = await self.client.sync(wait, sync_filter=_SYNC, full_state=full_state)
        if not isinstance(response, nio.SyncResponse):
            raise Refused("sync", getattr(response, "status_code", None))
        self._take(response, known)
        self._stir()
        async with self._keys:
            if self.client.should_upload_keys:
                await self.client.keys_upload()
            if self.client.should_query_keys:
                await self.client.keys_query()
            if self.client.should_claim_keys:
                await self.client.keys_claim(self.client.get_users_for_key_claiming())
            await self.client.send_to_device_messages()
        self._stir()

    def _take(self, response: nio.SyncResponse, known: set[str]) -> None:
        for room, invite in response.rooms.invite.items():
            mine = (event for event in invite.invite_state if isinstance(event, nio.InviteMemberEvent))
            self._add(*(Heard("", room, e.sender, "invite") for e in mine if e.state_key == self.user_id))
        for room, info in (*response.rooms.join.items(), *response.rooms.leave.items()):
            self.gaps += bool(info.timeline.limited and room in known)  # a room just joined is always limited
            for event in info.timeline.events:
                if isinstance(event, nio.MegolmEvent):
                    self._undecryptable.append((room, event))
                self._add(from_event(room, event))
            for ephemeral in info.ephemeral:
                self._add(*from_ephemeral(room, ephemeral, self._typing.get(room, frozenset())))
                if isinstance(ephemeral, nio.TypingNoticeEvent):
                    self._typing[room] = frozenset(ephemeral.users)
        if any(isinstance(event, nio.RoomKeyEvent | nio.ForwardedRoomKeyEvent) for event in response.to_device_events):
            self._unlock()

    def _unlock(self) -> None:
        """Tries again what could not be read; what can be read now is seen as new."""
        still = []
        for room, event in self._undecryptable:
            try:
                self._add(from_event(room, self.client.decrypt_event(event)))
            except nio.EncryptionError:
                still.append((room, event))
        self._undecryptable = still

    def _add(self, *heard: Heard) -> None:
        self.seen.extend(heard)
        self._stir()

    def _stir(self) -> None:
        """A person who waits looks again."""
        self._news.set()
        self._news = asyncio.Event()

    # --- hearing

    async def hears(
        self, predicate: Callable[[Heard], bool] = lambda _: True, timeout: float = PATIENCE, room: str | None = None
    ) -> Heard:
        """The next message of somebody else that fits; what came before it counts as heard."""

        def next_message() -> Heard | None:
            for place in range(self._read_upto, len(self.seen)):
                heard = self.seen[place]
                if (
                    heard.is_message
                    and heard.sender != self.user_id
                    and room in (None, heard.room)
                    and predicate(heard)
                ):
                    self._read_upto = place + 1
                    return heard
            return None

        return await self.until(next_message, timeout)

    async def sees(self, predicate: Callable[[Heard], bool], timeout: float = PATIENCE, after: int = 0) -> Heard:
        """The first thing in `seen` that fits, from the place `after` on: messages, edits, typing, anything."""
        return await self.until(lambda: next(filter(predicate, self.seen[after:]), None), timeout)

    async def until(self, look: Callable[[], T | None], timeout: float = PATIENCE) -> T:
        """What `look` finds, as soon as it finds something. Raises `TimeoutError` with the last that was seen."""
        end = monotonic() + timeout
        while not (found := look()):
            if self._listening is not None and self._listening.done():
                self._listening.result()  # raises what ended it
            news = self._news
            try:
                await asyncio.wait_for(news.wait(), max(0.0, min(0.25, end - monotonic())))
            except TimeoutError:
                if monotonic() >= end:
                    last = "\n".join(map(str, self.seen[-8:]))
                    raise TimeoutError(f"{self.user_id} waited {timeout} s; last seen:\n{last}") from None
        return found


def accepted(what: str, response: Any) -> Any:
    """The response if it is none of an error. Raises `Refused`."""
    if isinstance(response, nio.ErrorResponse):
        raise Refused(f"{what}: {response.message}", response.status_code)
    return response
