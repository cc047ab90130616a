"""Somebody with an ordinary client: logs in, makes rooms, talks, and keeps everything that can be seen.

Nothing of triagebot is used here, so that a fault there cannot hide itself. The client is nio's, with a loop of its own
around `sync`, since `sync_forever` spins without a pause on errors. Sends wait out a server that is away, under the
same transaction id, as people's clients do.
"""

import asyncio
import io
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from json import dumps
from pathlib import Path
from time import monotonic
from typing import Any, Self, TypeVar
from urllib.parse import quote

import aiohttp
import nio
from nio.crypto.attachments import decrypt_attachment
from nio.event_builders import ToDeviceMessage

from tests.channels.matrix.heard import Heard, from_ephemeral, from_event
from tests.channels.matrix.workarounds import share_carefully

T = TypeVar("T")
PATIENCE = 60.0  # seconds that somebody waits for something to be seen, unless told otherwise
_SYNC = {"room": {"timeline": {"limit": 500}, "state": {"lazy_load_members": False}}}
_ENCRYPTED = {"type": "m.room.encryption", "state_key": "", "content": {"algorithm": "m.megolm.v1.aes-sha2"}}


class Refused(Exception):  # noqa: N818 - what happened, not what kind of thing it is
    """The homeserver said no. `code` is its errcode."""

    def __init__(self, what: str, code: str | None) -> None:
        super().__init__(f"{what} ({code})")
        self.code = code


@dataclass(frozen=True)
class KeptBack:
    """The key of messages that one member of a room could not read: for `Person.hand_over`."""

    room: str
    reader: str
    session_id: str
    session_key: str


class Person:
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
        _accepted("login", given)
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

    # --- rooms

    async def create_direct_room(self, other: str, encrypted: bool = False) -> str:
        """A room for two, as clients make it: both have the same power. The other one is invited, not yet in it."""
        return await self._create(encrypted, invite=[other], is_direct=True, preset=nio.RoomPreset.trusted_private_chat)

    async def create_group_room(self, *others: str, encrypted: bool = False, name: str = "Riders") -> str:
        return await self._create(encrypted, invite=list(others), name=name, preset=nio.RoomPreset.private_chat)

    async def _create(self, encrypted: bool, **wanted: Any) -> str:
        made = await self.client.room_create(initial_state=[_ENCRYPTED] if encrypted else [], **wanted)
        room = str(_accepted("room_create", made).room_id)
        await self.until(lambda: room in self.client.rooms and self.client.rooms[room].encrypted == encrypted)
        return room

    async def invite(self, room: str, user: str) -> None:
        _accepted("invite", await self.client.room_invite(room, user))

    async def join(self, room: str) -> None:
        """Joins, and waits until the room is there with its members."""
        _accepted("join", await self.client.join(room))
        await self.until(lambda: room in self.client.rooms)

    async def leave(self, room: str) -> None:
        _accepted("leave", await self.client.room_leave(room))

    async def kick(self, room: str, user: str) -> None:
        _accepted("kick", await self.client.room_kick(room, user))

    async def sees_join(self, room: str, user: str, timeout: float = PATIENCE) -> None:
        """Until `user` is in the room, and in an encrypted one a device of theirs is known, so that they can read."""

        def there() -> bool:
            member = self.client.rooms[room].users.get(user)
            return member is not None and not member.invited

        await self.until(there, timeout)
        if self.client.rooms[room].encrypted:
            await self.until(lambda: any(self.client.device_store.active_user_devices(user)), timeout)

    async def upgrade_room(self, room: str, version: str = "11") -> str:
        """By the server's own upgrade: the old room gets a tombstone, members are not carried along; the new room."""
        given = await self.ask("POST", f"rooms/{quote(room, safe='')}/upgrade", {"new_version": version})
        new = str(given["replacement_room"])
        await self.until(lambda: new in self.client.rooms)
        return new

    async def set_power_level(self, room: str, user: str, level: int) -> None:
        """Fails for a creator of a room of version 12 or later: theirs is without limit and not to be changed."""
        path = f"rooms/{quote(room, safe='')}/state/m.room.power_levels/"
        levels = await self.ask("GET", path)
        levels.setdefault("users", {})[user] = level
        await self.ask("PUT", path, levels)

    async def require_power_to_talk(self, room: str, level: int) -> None:
        """A person who has less than `level` can no longer send anything there."""
        path = f"rooms/{quote(room, safe='')}/state/m.room.power_levels/"
        levels = await self.ask("GET", path)
        kinds = ("m.room.message", "m.room.encrypted", "m.reaction")
        events = levels.get("events", {}) | dict.fromkeys(kinds, level)
        await self.ask("PUT", path, levels | {"events_default": level, "events": events})

    # --- talking

    async def say(
        self,
        room: str,
        text: str,
        html: str | None = None,
        reply_to: str | Heard | None = None,
        thread: str | None = None,
        mention: str | None = None,
        kind: str = "m.text",
    ) -> str:
        """A message; its event id. `reply_to` as a `Heard` puts the old quoted fallback before the text, too."""
        content: dict[str, Any] = {"msgtype": kind, "body": text, "m.mentions": {}}
        if html is not None:
            content |= {"format": "org.matrix.custom.html", "formatted_body": html}
        if mention is not None:
            content["m.mentions"] = {"user_ids": [mention]}
        if isinstance(reply_to, Heard):
            quoted = "\n".join(f"> {line}" for line in f"<{reply_to.sender}> {reply_to.body}".splitlines())
            old = f"<mx-reply><blockquote>{reply_to.body}</blockquote></mx-reply>{html or text}"
            content |= {"body": f"{quoted}\n\n{text}", "format": "org.matrix.custom.html", "formatted_body": old}
        target = reply_to.event_id if isinstance(reply_to, Heard) else reply_to
        if thread is not None:
            content["m.relates_to"] = {
                "rel_type": "m.thread",
                "event_id": thread,
                "is_falling_back": target is None,
                "m.in_reply_to": {"event_id": target or thread},
            }
        elif target is not None:
            content["m.relates_to"] = {"m.in_reply_to": {"event_id": target}}
        return await self.send_raw(room, "m.room.message", content)

    async def edit(self, room: str, event_id: str, text: str) -> str:
        content = {
            "msgtype": "m.text",
            "body": f"* {text}",
            "m.new_content": {"msgtype": "m.text", "body": text, "m.mentions": {}},
            "m.mentions": {},
            "m.relates_to": {"rel_type": "m.replace", "event_id": event_id},
        }
        return await self.send_raw(room, "m.room.message", content)

    async def react(self, room: str, event_id: str, key: str) -> str:
        about = {"rel_type": "m.annotation", "event_id": event_id, "key": key}
        return await self.send_raw(room, "m.reaction", {"m.relates_to": about})

    async def redact(self, room: str, event_id: str) -> str:
        return str(_accepted("redact", await self.client.room_redact(room, event_id)).event_id)

    async def send_photo(self, room: str, picture: bytes, name: str = "hub.png", mime: str = "image/png") -> str:
        """Encrypted where the room is."""
        encrypt = self.client.rooms[room].encrypted
        given, keys = await self.client.upload(
            io.BytesIO(picture),
            content_type=mime,
            filename=None if encrypt else name,
            encrypt=encrypt,
            filesize=len(picture),
        )
        address = str(_accepted("upload", given).content_uri)
        content: dict[str, Any] = {"msgtype": "m.image", "body": name, "info": {"mimetype": mime, "size": len(picture)}}
        content |= {"file": {**(keys or {}), "url": address}} if encrypt else {"url": address}
        return await self.send_raw(room, "m.room.message", content)

    async def fetch(self, heard: Heard) -> bytes:
        """The picture or file that a message shows, decrypted. Raises `nio.EncryptionError` if it was tampered with."""
        file = heard.content.get("file")
        address = file["url"] if file else heard.content["url"]
        given = _accepted("download", await self.client.download(address))
        if file is None:
            return bytes(given.body)
        return bytes(decrypt_attachment(given.body, file["key"]["k"], file["hashes"]["sha256"], file["iv"]))

    async def send_raw(self, room: str, kind: str, content: Mapping[str, Any], tx: str | None = None) -> str:
        """Any event; encrypted where the room is, except for reactions, which no client encrypts."""
        if kind != "m.reaction":
            await self._ready_to_encrypt(room)
        tx = tx or f"{self.client.device_id}-{next(self._numbers)}"
        given = await self.client.room_send(room, kind, dict(content), tx, ignore_unverified_devices=True)
        return str(_accepted("room_send", given).event_id)

    async def _ready_to_encrypt(self, room: str) -> None:
        """Everybody in an encrypted room has the key of what comes next. Goes on trying as long as people would."""
        end = monotonic() + PATIENCE
        while self.client.rooms[room].encrypted:
            with suppress(aiohttp.ClientError, TimeoutError):
                async with self._keys:
                    if await share_carefully(self.client, room):
                        return
            if monotonic() > end:
                raise Refused(f"the key of {room} could not be shared", None)
            await asyncio.sleep(0.05)

    async def types(self, room: str, typing: bool = True) -> None:
        _accepted("typing", await self.client.room_typing(room, typing))

    async def reads(self, room: str, event_id: str) -> None:
        _accepted("read", await self.client.room_read_markers(room, event_id, event_id))

    # --- keys

    async def say_unreadably(self, room: str, text: str, reader: str) -> tuple[str, KeptBack]:
        """A message whose key everybody gets but `reader`; the event id, and the key for later.

        Later messages use the same key, so `reader` cannot read these either, until `hand_over` or `new_key`.
        """
        await self._ready_to_encrypt(room)  # so that the devices of all are known
        olm = self.client.olm
        self.client.invalidate_outbound_session(room)
        olm.create_outbound_group_session(room)
        session = olm.outbound_group_sessions[room]
        # The key as it is before anything was encrypted with it: afterwards it opens only what comes later.
        kept = KeptBack(room, reader, session.id, session.session_key)
        session.users_ignored |= {
            (reader, device.id) for device in self.client.device_store.active_user_devices(reader)
        }
        return await self.say(room, text), kept

    async def hand_over(self, kept: KeptBack) -> None:
        """The key goes to every device of the one who lacked it, as `m.room_key` over Olm."""
        content = {
            "algorithm": "m.megolm.v1.aes-sha2",
            "room_id": kept.room,
            "session_id": kept.session_id,
            "session_key": kept.session_key,
        }
        missing = self.client.olm.get_missing_sessions([kept.reader])
        if missing:
            _accepted("keys_claim", await self.client.keys_claim(missing))
        for device in self.client.device_store.active_user_devices(kept.reader):
            olm_session = self.client.olm.session_store.get(device.curve25519)
            sealed = self.client.olm._olm_encrypt(olm_session, device, "m.room_key", content)
            message = ToDeviceMessage("m.room.encrypted", device.user_id, device.id, sealed)
            _accepted("to_device", await self.client.to_device(message))

    def new_key(self, room: str) -> None:
        """The next message there is encrypted with a new key, which everybody gets."""
        self.client.invalidate_outbound_session(room)

    # --- anything else

    async def ask(self, method: str, path: str, content: Any = None) -> dict[str, Any]:
        """A request of the client API below `/_matrix/client/v3/`. Raises `Refused`."""
        headers = {"Authorization": f"Bearer {self.client.access_token}", "Content-Type": "application/json"}
        data = None if content is None else dumps(content)
        answer = await self.client.send(method, f"/_matrix/client/v3/{path}", data, headers)
        given: dict[str, Any] = await answer.json()
        if answer.status != 200:
            raise Refused(f"{method} {path}: {given.get('error')}", given.get("errcode"))
        return given


def _accepted(what: str, response: Any) -> Any:
    """The response if it is none of an error. Raises `Refused`."""
    if isinstance(response, nio.ErrorResponse):
        raise Refused(f"{what}: {response.message}", response.status_code)
    return response
