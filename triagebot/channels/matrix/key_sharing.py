"""Shares a room's key with the devices of its members before a message takes it.

- A message goes out only when the server has taken its key for every device that could be given it. Devices that have
  no one-time key left are passed over, and tried again after a while; when nobody else's device can read the message,
  it does not go out.
- When membership changes between sharing a key and using it, another key is used.
"""

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

import nio

from triagebot.channels.matrix.http import HttpClient, path_of
from triagebot.channels.matrix.keys import Keys
from triagebot.messages import Transient

#: How often a key is shared again because members or devices changed meanwhile.
ROUNDS = 5


class NobodyCanRead(Transient):
    """No device of anybody else in the room can be given the key just now."""


class KeySharing:
    """One call at a time for a room."""

    def __init__(self, http: HttpClient, keys: Keys) -> None:
        self._http, self._keys = http, keys

    async def share(self, room: str) -> None:
        """Everybody in the room has the key that the next `encrypt` uses, if that follows at once.

        Raises NobodyCanRead, Transient, MatrixAway, Denied, StoreError; then nothing may be sent there.
        """
        for _ in range(ROUNDS):
            members = self._members(room)
            await self._keys.query_devices(members & self._keys.client.users_for_key_query)
            devices = self._keys.client.devices_of(members)
            if self._lacking(room, members):
                await self._share_once(room, members)
            now, client = self._members(room), self._keys.client
            if members - now or devices - client.devices_of(now):  # somebody left who has the key
                client.forget_room_key(room)
            elif not now & client.users_for_key_query and not self._lacking(room, now):
                self._check_readable(room, now)
                return
        raise Transient("the members of the room change all the time")

    def _members(self, room: str) -> set[str]:
        known = self._keys.rooms.get(room)
        if known is None:
            raise Transient("the room is not known any more")
        return set(known.users)

    def _lacking(self, room: str, members: set[str]) -> bool:
        """Whether somebody needs the key: it is new, or there are devices that could not be given it."""
        client = self._keys.client
        if client.needs_sharing(room):
            return True
        return any(self._keys.may_claim(*device) for device in client.without_room_key(room, members))

    async def _share_once(self, room: str, members: set[str]) -> None:
        missing = self._keys.client.without_session(members)
        due = {
            user: [each for each in devices if self._keys.may_claim(user, each)] for user, devices in missing.items()
        }
        if due := {user: devices for user, devices in due.items() if devices}:
            await self._keys.claim(due)
        with self._keys.atomic():
            parts = self._keys.client.share_room_key(room, members)
        for devices, messages in parts:
            await self._http.request("PUT", path_of("sendToDevice", "m.room.encrypted", uuid4().hex), messages)
            self._keys.client.receive_response(nio.ShareGroupSessionResponse(room, devices))
        self._keys.client.room_key_shared(room)

    def _check_readable(self, room: str, members: set[str]) -> None:
        shared, user = self._keys.client.with_room_key(room), self._keys.user
        if members - {user} and not any(reader != user for reader, _ in shared):
            self._keys.client.forget_room_key(room)
            self._keys.claim_again(members)
            raise NobodyCanRead("no device of anybody in the room has a key to share with now")

    def encrypt(self, room: str, kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
        """An event, encrypted for all who were given the key by `share`."""
        self._keys.rooms[room].members_synced = True  # every sync asks for all members, which nio cannot know
        _, encrypted = self._keys.client.encrypt(room, kind, dict(content))
        return dict(encrypted)
