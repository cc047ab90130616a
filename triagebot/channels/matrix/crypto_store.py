"""The library's bookkeeping of members, devices and keys, mended where it would lose or believe too much.

Decided here and nowhere else: what of the server's news the library is given at all, and which keys it takes.

- It is given who is in which room and that a room is encrypted, in clean form; messages never go through it, so that
  nobody can stop it with one.
- A key that was asked for is also taken from the very device that made it, which is the one that can say; the library
  would only hear the account's own other devices.
- It keeps nothing about people with whom no room is shared any more, nor about rooms that were left, but the sessions
  between devices: whoever comes back uses them on.
"""

import logging
import sqlite3
from collections.abc import Collection, Mapping
from typing import Any

import nio
from nio.crypto import Olm
from nio.store import SqliteStore
from nio.store.database import use_database_atomic
from nio.store.models import (
    DeviceKeys,
    DeviceTrustState,
    EncryptedRooms,
    MegolmInboundSessions,
    OutgoingKeyRequests,
)
from nio.store.models import Keys as DeviceKeyTexts

from triagebot.channels.matrix.rooms import content_of, mapping
from triagebot.channels.matrix.store_encryption import Closing, ClosingDatabase, close_rows, is_clear, start_closing

log = logging.getLogger(__name__)

MEGOLM = "m.megolm.v1.aes-sha2"


class Store(SqliteStore):  # type: ignore[misc]
    """The library's store, with one write to the disk a commit, and closed once `close_up` was called."""

    #: The other way asks the database past its columns, which close and open.
    _get_device_ids = SqliteStore._legacy_get_device_ids

    def _create_database(self) -> Any:
        pragmas = {"foreign_keys": 1, "secure_delete": 1, "journal_mode": "wal", "synchronous": "full"}
        return ClosingDatabase(self.database_path, pragmas=pragmas)

    def close_up(self, closing: Closing) -> None:
        """Raises ValueError when the file was closed with another key, or pickled with one: then it stays as it was."""
        if is_clear(self.database):
            self.load_account()
            close_rows(self.database, closing)
        start_closing(self.database, closing)

    @use_database_atomic  # type: ignore[untyped-decorator]
    def drop_rooms(self, rooms: Collection[str]) -> None:
        for room in rooms:
            for table in (MegolmInboundSessions, OutgoingKeyRequests, EncryptedRooms):
                table.delete().where(table.account == self._get_account(), table.room_id == room).execute()

    @use_database_atomic  # type: ignore[untyped-decorator]
    def drop_people(self, users: Collection[str]) -> None:
        for user in users:
            theirs = DeviceKeys.account == self._get_account(), DeviceKeys.user_id == user
            for table in (DeviceKeyTexts, DeviceTrustState):
                table.delete().where(table.device.in_(DeviceKeys.select(DeviceKeys.id).where(*theirs))).execute()
            DeviceKeys.delete().where(*theirs).execute()


class _Machine(Olm):  # type: ignore[misc]
    def _should_accept_forward(self, sender: str, sender_key: str, event: Any) -> bool:
        asked = self.outgoing_key_requests.get(event.session_id)
        content = content_of(event.source)
        if asked is None or (asked.room_id, asked.algorithm) != (event.room_id, event.algorithm):
            return False
        made_it = content.get("sender_key") == sender_key and not content.get("forwarding_curve25519_key_chain")
        return made_it or bool(super()._should_accept_forward(sender, sender_key, event))


class Books(nio.Client):  # type: ignore[misc]
    """The library's bookkeeping, which one bad message cannot stop, and whose file says nothing to others."""

    def __init__(self, user: str, device: str, folder: str, config: Any, closing: Closing) -> None:
        super().__init__(user, device, folder, config)
        self._closing = closing

    def load_store(self) -> None:
        where = (self.store_path, self.config.pickle_key, self.config.store_name)
        self.store = Store(self.user_id, self.device_id, *where)
        self.store.close_up(self._closing)
        self.olm = _Machine(self.user_id, self.device_id, self.store)
        self.encrypted_rooms = self.store.load_encrypted_rooms()

    def absent_rooms(self) -> set[str]:
        """Encrypted rooms of which something is kept, and that the bot is not in. All rooms must be known."""
        return set(self.encrypted_rooms).difference(self.rooms)

    def absent_people(self) -> set[str]:
        """Those of whom something is kept, and who are in no room with the bot. All rooms must be known."""
        present = {self.user_id}.union(*(room.users for room in self.rooms.values()))
        return {user for user, devices in self.device_store.items() if devices} - present

    def part_with(self, rooms: Collection[str], people: Collection[str]) -> None:
        """Keeps nothing about them any more but the sessions between devices."""
        self.store.drop_rooms(rooms)
        self.store.drop_people(people)
        for room in rooms:
            self.encrypted_rooms.discard(room)
            self.olm.inbound_group_store._entries.pop(room, None)
        asked = self.olm.outgoing_key_requests
        self.olm.outgoing_key_requests = {name: each for name, each in asked.items() if each.room_id not in rooms}
        for user in people:
            self.device_store._entries.pop(user, None)
        self.olm.tracked_users.difference_update(people)
        self.olm.users_for_key_query.difference_update(people)

    def _handle_decrypt_to_device(self, event: Any) -> Any:
        try:
            return super()._handle_decrypt_to_device(event)
        except Exception as error:
            if of_the_disk(error) is not None:
                raise
            log.warning("matrix: a message between devices is passed over (%s)", type(error).__name__)
            return None


def of_the_disk(error: BaseException) -> sqlite3.DatabaseError | None:
    """The database's own error, which the library's own library wraps."""
    for each in (error, error.__cause__, error.__context__):
        if isinstance(each, sqlite3.DatabaseError):
            return each
    return None


def sealed(raw: Any) -> bool:
    """Whether a message between devices is one of those that matter: all others could be from anybody."""
    return (
        isinstance(raw, Mapping) and raw.get("type") == "m.room.encrypted" and isinstance(raw.get("content"), Mapping)
    )


def membership(info: Any) -> dict[str, Any]:
    """Of a room's news only who is in it, what they are called, and that it is encrypted; nothing of wrong types."""
    if not isinstance(info, Mapping):
        info = {}
    parts = (mapping(info, part).get("events") or () for part in ("state", "timeline"))
    state, timeline = ([plain for raw in events if (plain := _plain(raw))] for events in parts)
    return {"state": {"events": state}, "timeline": {"events": timeline, "limited": False, "prev_batch": "-"}}


def _plain(raw: Any) -> dict[str, Any] | None:
    if not isinstance(raw, Mapping) or not isinstance(raw.get("state_key"), str):
        return None
    content = content_of(raw)
    frame = {name: raw.get(name) for name in ("type", "event_id", "sender", "origin_server_ts", "state_key")}
    match raw.get("type"):
        case "m.room.member":
            name = content.get("displayname")
            kept = {"membership": content.get("membership"), "displayname": name if isinstance(name, str) else None}
            return {**frame, "content": kept}
        case "m.room.encryption":
            return {**frame, "content": {"algorithm": MEGOLM}}
    return None
