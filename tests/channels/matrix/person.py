"""Somebody with an ordinary client (`device`): makes rooms, talks, and reads what is there. Sends wait out a server
that is away, under the same transaction id, as people's clients do."""

import asyncio
import io
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from json import dumps
from time import monotonic
from typing import Any
from urllib.parse import quote

import aiohttp
import nio
from nio.crypto.attachments import decrypt_attachment
from nio.event_builders import ToDeviceMessage

from tests.channels.matrix.device import PATIENCE, Device, Refused, accepted
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.workarounds import share_carefully

_ENCRYPTED = {"type": "m.room.encryption", "state_key": "", "content": {"algorithm": "m.megolm.v1.aes-sha2"}}


@dataclass(frozen=True)
class KeptBack:
    """The key of messages that one member of a room could not read: for `Person.hand_over`."""

    room: str
    reader: str
    session_id: str
    session_key: str


class Person(Device):
    """What the person does with it."""

    # --- rooms

    async def create_direct_room(self, other: str, encrypted: bool = False) -> str:
        """A room for two, as clients make it: both have the same power. The other one is invited, not yet in it."""
        return await self._create(encrypted, invite=[other], is_direct=True, preset=nio.RoomPreset.trusted_private_chat)

    async def create_group_room(self, *others: str, encrypted: bool = False, name: str = "Riders") -> str:
        return await self._create(encrypted, invite=list(others), name=name, preset=nio.RoomPreset.private_chat)

    async def _create(self, encrypted: bool, **wanted: Any) -> str:
        made = await self.client.room_create(initial_state=[_ENCRYPTED] if encrypted else [], **wanted)
        room = str(accepted("room_create", made).room_id)
        await self.until(lambda: room in self.client.rooms and self.client.rooms[room].encrypted == encrypted)
        return room

    async def invite(self, room: str, user: str) -> None:
        accepted("invite", await self.client.room_invite(room, user))

    async def join(self, room: str) -> None:
        """Joins, and waits until the room is there with its members."""
        accepted("join", await self.client.join(room))
        await self.until(lambda: room in self.client.rooms)

    async def leave(self, room: str) -> None:
        accepted("leave", await self.client.room_leave(room))

    async def kick(self, room: str, user: str) -> None:
        accepted("kick", await self.client.room_kick(room, user))

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
        return str(accepted("redact", await self.client.room_redact(room, event_id)).event_id)

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
        address = str(accepted("upload", given).content_uri)
        content: dict[str, Any] = {"msgtype": "m.image", "body": name, "info": {"mimetype": mime, "size": len(picture)}}
        content |= {"file": {**(keys or {}), "url": address}} if encrypt else {"url": address}
        return await self.send_raw(room, "m.room.message", content)

    async def fetch(self, heard: Heard) -> bytes:
        """The picture or file that a message shows, decrypted. Raises `nio.EncryptionError` if it was tampered with."""
        file = heard.content.get("file")
        address = file["url"] if file else heard.content["url"]
        given = accepted("download", await self.client.download(address))
        if file is None:
            return bytes(given.body)
        return bytes(decrypt_attachment(given.body, file["key"]["k"], file["hashes"]["sha256"], file["iv"]))

    async def send_raw(self, room: str, kind: str, content: Mapping[str, Any], tx: str | None = None) -> str:
        """Any event; encrypted where the room is, except for reactions, which no client encrypts."""
        if kind != "m.reaction":
            await self._ready_to_encrypt(room)
        tx = tx or f"{self.client.device_id}-{next(self._numbers)}"
        given = await self.client.room_send(room, kind, dict(content), tx, ignore_unverified_devices=True)
        return str(accepted("room_send", given).event_id)

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
        accepted("typing", await self.client.room_typing(room, typing))

    async def reads(self, room: str, event_id: str) -> None:
        accepted("read", await self.client.room_read_markers(room, event_id, event_id))

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
            accepted("keys_claim", await self.client.keys_claim(missing))
        for device in self.client.device_store.active_user_devices(kept.reader):
            olm_session = self.client.olm.session_store.get(device.curve25519)
            sealed = self.client.olm._olm_encrypt(olm_session, device, "m.room_key", content)
            message = ToDeviceMessage("m.room.encrypted", device.user_id, device.id, sealed)
            accepted("to_device", await self.client.to_device(message))

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
