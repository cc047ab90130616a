"""Who can read what the bot writes: a room's key is handed to its members' devices before it is used.

Decided here and nowhere else:
- A message goes out only when the server has taken its key for every device that could be given it. Devices that have
  no one-time key left are passed over, and tried again after a while; when not one device of anybody else can read it,
  it does not go out.
- Nobody's membership changes between handing out a key and using it, or another key is used.
"""

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from triagebot.channels.matrix.http import Line, path_of
from triagebot.channels.matrix.keys import Keys
from triagebot.messages import Transient

#: How often a key is handed out anew because members or devices changed meanwhile.
ROUNDS = 5


class NothingReadable(Transient):
    """No device of anybody else in the room can be given the key just now."""


class Sharing:
    """Hands out the keys of rooms; one call at a time for a room."""

    def __init__(self, line: Line, keys: Keys) -> None:
        self._line, self._keys = line, keys

    async def share(self, room: str) -> None:
        """Everybody in the room has the key that the next `close` uses, if that follows at once.

        Raises NothingReadable, Transient, MatrixAway, Denied, StoreError; then nothing may be sent there.
        """
        for _ in range(ROUNDS):
            members = self._members(room)
            await self._keys.ask_devices(members & self._keys.books.olm.users_for_key_query)
            devices = self._devices(members)
            if self._unserved(room, members):
                await self._hand_out(room, members)
            now = self._members(room)
            if members - now or devices - self._devices(now):  # somebody went who has the key now
                self._keys.books.olm.outbound_group_sessions.pop(room, None)
            elif not now & self._keys.books.olm.users_for_key_query and not self._unserved(room, now):
                self._readable(room, now)
                return
        raise Transient("the members of the room change all the time")

    def _members(self, room: str) -> set[str]:
        known = self._keys.books.rooms.get(room)
        if known is None:
            raise Transient("the room is not known any more")
        return set(known.users)

    def _unserved(self, room: str, members: set[str]) -> bool:
        """Whether somebody needs the key: it is new, or there are devices that could not be given it."""
        olm = self._keys.books.olm
        if olm.should_share_group_session(room):
            return True
        session = olm.outbound_group_sessions[room]
        without = self._devices(members) - session.users_shared_with - session.users_ignored
        return any(self._keys.due(*device) for device in without)

    def _devices(self, members: set[str]) -> set[tuple[str, str]]:
        store = self._keys.books.olm.device_store
        return {(user, each.id) for user in members for each in store.active_user_devices(user)}

    async def _hand_out(self, room: str, members: set[str]) -> None:
        olm = self._keys.books.olm
        session = olm.outbound_group_sessions.get(room)
        if session is not None and session.expired:
            del olm.outbound_group_sessions[room]
        elif session is not None:
            session.shared = False  # the same key goes on to those who lack it
        missing = olm.get_missing_sessions(sorted(members))
        due = {user: [each for each in devices if self._keys.due(user, each)] for user, devices in missing.items()}
        if due := {user: devices for user, devices in due.items() if devices}:
            await self._keys.claim(due)
        with self._keys.whole():
            parts = list(olm.share_group_session_parallel(room, sorted(members), ignore_unverified_devices=True))
        for devices, messages in parts:
            await self._line.ask("PUT", path_of("sendToDevice", "m.room.encrypted", uuid4().hex), messages)
            if (session := olm.outbound_group_sessions.get(room)) is not None:
                session.users_shared_with |= devices
        if (session := olm.outbound_group_sessions.get(room)) is not None:
            session.shared = True

    def _readable(self, room: str, members: set[str]) -> None:
        shared = self._keys.books.olm.outbound_group_sessions[room].users_shared_with
        if members - {self._keys.user} and not any(user != self._keys.user for user, _ in shared):
            self._keys.books.olm.outbound_group_sessions.pop(room, None)
            self._keys.forgive(members)
            raise NothingReadable("no device of anybody in the room has a key to share with now")

    def close_up(self, room: str, kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
        """An event, encrypted for all who were given the key by `share`."""
        sealed: dict[str, Any] = self._keys.books.olm.group_encrypt(room, {"content": dict(content), "type": kind})
        if "m.relates_to" in content:
            sealed["m.relates_to"] = content["m.relates_to"]  # the server must see which messages belong together
        return sealed
