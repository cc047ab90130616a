"""Everything of matrix-nio that we use beyond its public API. No other module touches any of it.

Public is what `nio.Client`, its responses and its store offer without an underscore. Internal are `Client.olm` and all
that hangs on it, names with an underscore, and the tables of the store. Each has a test in
`tests/channels/matrix/test_nio_internals.py` that says which behaviour we need: run it first after an update of nio.
`NOTES.md` says why nio's own requests are not used.
"""

import logging
import sqlite3
from collections.abc import Collection, Iterator
from contextlib import AbstractContextManager
from copy import deepcopy
from pathlib import Path
from typing import Any

import nio
from nio.crypto import Olm
from nio.store import SqliteStore
from nio.store.database import SqliteDatabase, use_database_atomic
from nio.store.models import (
    DeviceKeys,
    DeviceTrustState,
    EncryptedRooms,
    Keys,
    MegolmInboundSessions,
    OutgoingKeyRequests,
    TextField,
)

from triagebot.channels.matrix.rooms import content_of
from triagebot.channels.matrix.store_encryption import Column, TextCipher, encrypt_rows, is_plain, start_encrypting

log = logging.getLogger(__name__)

MEGOLM = "m.megolm.v1.aes-sha2"

Device = tuple[str, str]


# --- the store ----------------------------------------------------------------------------------------------------


class EncryptedDatabase(SqliteDatabase):  # type: ignore[misc]
    """A file of the store; without a `cipher` it is read and written as nio does."""

    cipher: TextCipher | None = None


class EncryptedText(TextField):  # type: ignore[misc]
    """A text column, encrypted in files with a cipher. nio binds its tables to one file for each call."""

    def db_value(self, value: Any) -> Any:
        value, cipher = super().db_value(value), self._cipher()
        return value if cipher is None or value is None else cipher.encrypt(_label(self), value)

    def python_value(self, value: Any) -> Any:
        cipher = self._cipher()
        return super().python_value(value if cipher is None or value is None else cipher.decrypt(_label(self), value))

    def _cipher(self) -> TextCipher | None:
        return getattr(self.model._meta.database, "cipher", None)


def _label(field: Any) -> str:
    return f"{field.model._meta.table_name}.{field.column_name}"


def _text_fields() -> Iterator[Any]:
    """Fields of subclasses hold dates."""
    for model in SqliteStore.models:
        yield from (field for field in model._meta.sorted_fields if type(field) in (TextField, EncryptedText))


for _field in _text_fields():
    _field.__class__ = EncryptedText


def text_columns() -> Iterator[Column]:
    """All columns that hold text. A foreign key to a text is encrypted under the label of that text."""
    for field in _text_fields():
        yield Column(field.model._meta.table_name, field.column_name, _label(field))
        for key, model in field.model._meta.backrefs.items():
            if key.rel_field is field and model in SqliteStore.models:
                yield Column(model._meta.table_name, key.column_name, _label(field))


class EncryptedStore(SqliteStore):  # type: ignore[misc]
    """nio's store with encrypted texts, and one write to the disk a commit."""

    #: The newer way asks the database past its columns, and so for texts in clear.
    _get_device_ids = SqliteStore._legacy_get_device_ids

    def _create_database(self) -> Any:
        pragmas = {"foreign_keys": 1, "secure_delete": 1, "journal_mode": "wal", "synchronous": "full"}
        return EncryptedDatabase(self.database_path, pragmas=pragmas)

    def encrypt_with(self, cipher: TextCipher) -> None:
        """Raises ValueError for a file that was encrypted or pickled with another key, and leaves it as it was."""
        if is_plain(self.database):
            self.load_account()
            encrypt_rows(self.database, cipher, text_columns())
        start_encrypting(self.database, cipher)

    @use_database_atomic  # type: ignore[untyped-decorator]
    def drop_rooms(self, rooms: Collection[str]) -> None:
        for room in rooms:
            for table in (MegolmInboundSessions, OutgoingKeyRequests, EncryptedRooms):
                table.delete().where(table.account == self._get_account(), table.room_id == room).execute()

    @use_database_atomic  # type: ignore[untyped-decorator]
    def drop_people(self, users: Collection[str]) -> None:
        for user in users:
            theirs = DeviceKeys.account == self._get_account(), DeviceKeys.user_id == user
            for table in (Keys, DeviceTrustState):
                table.delete().where(table.device.in_(DeviceKeys.select(DeviceKeys.id).where(*theirs))).execute()
            DeviceKeys.delete().where(*theirs).execute()


def disk_error(error: BaseException) -> sqlite3.DatabaseError | None:
    """The database's own error, which peewee wraps."""
    for each in (error, error.__cause__, error.__context__):
        if isinstance(each, sqlite3.DatabaseError):
            return each
    return None


# --- the client ---------------------------------------------------------------------------------------------------


class _Olm(Olm):  # type: ignore[misc]
    def _should_accept_forward(self, sender: str, sender_key: str, event: Any) -> bool:
        """Also from the device that made the key; nio takes forwarded keys only from the account's own devices."""
        asked = self.outgoing_key_requests.get(event.session_id)
        content = content_of(event.source)
        if asked is None or (asked.room_id, asked.algorithm) != (event.room_id, event.algorithm):
            return False
        made_it = content.get("sender_key") == sender_key and not content.get("forwarding_curve25519_key_chain")
        return made_it or bool(super()._should_accept_forward(sender, sender_key, event))


class CryptoClient(nio.Client):  # type: ignore[misc]
    """nio's state of members, devices and keys, without its requests. One bad message cannot stop it."""

    def __init__(self, user: str, device: str, file: Path, pickle_key: str, cipher: TextCipher) -> None:
        """Raises ValueError for a file that was made with other keys."""
        config = nio.ClientConfig(store=EncryptedStore, store_name=file.name, pickle_key=pickle_key)
        super().__init__(user, device, str(file.parent), config)
        self._cipher = cipher
        self.restore_login(user, device, "-")

    def load_store(self) -> None:
        where = (self.store_path, self.config.pickle_key, self.config.store_name)
        self.store = EncryptedStore(self.user_id, self.device_id, *where)
        self.store.encrypt_with(self._cipher)
        self.olm = _Olm(self.user_id, self.device_id, self.store)
        self.encrypted_rooms = self.store.load_encrypted_rooms()

    def atomic(self) -> AbstractContextManager[Any]:
        """One transaction of the store."""
        return self.store.database.atomic()  # type: ignore[no-any-return]

    def close(self) -> None:
        self.store.database.close()

    def _handle_decrypt_to_device(self, event: Any) -> Any:
        try:
            return super()._handle_decrypt_to_device(event)
        except Exception as error:
            if disk_error(error) is not None:
                raise
            log.warning("matrix: a message between devices is passed over (%s)", type(error).__name__)
            return None

    # --- the device's own keys

    @property
    def identity(self) -> str:
        """The public key by which others know the device."""
        return str(self.olm.account.identity_keys["ed25519"])

    def set_one_time_keys_left(self, count: int) -> None:
        """How many the server has."""
        self.olm.uploaded_key_count = count

    def set_unpublished(self) -> None:
        """The server has lost the device's keys, though nio believes that it published them."""
        self.olm.account.shared = False
        self.olm.save_account()

    def give_up_one_time_keys(self) -> None:
        """The server knows other keys by the names of these, so that it will never take them."""
        self.olm.mark_keys_as_published()
        self.olm.save_account()

    def needs_upload(self) -> bool:
        """Whether the device or half of its one-time keys are not published."""
        account, count = self.olm.account, self.olm.uploaded_key_count
        return not account.shared or (count is not None and count <= account.max_one_time_keys // 2)

    def keys_to_upload(self, fallback: bool) -> dict[str, Any]:
        """The device's keys if they are not published, one-time keys, and a `fallback` key; all of it saved."""
        account, upload = self.olm.account, {}
        if not account.shared:
            fallback = True
            upload["device_keys"] = self._signed(
                {
                    "algorithms": ["m.olm.v1.curve25519-aes-sha2", MEGOLM],
                    "device_id": self.device_id,
                    "user_id": self.user_id,
                    "keys": {f"{kind}:{self.device_id}": key for kind, key in account.identity_keys.items()},
                }
            )
        waiting = len(account.one_time_keys["curve25519"])  # those of an attempt that was cut off
        wanted = account.max_one_time_keys - (self.olm.uploaded_key_count or 0) - waiting
        if wanted > 0:
            account.generate_one_time_keys(wanted)
        upload["one_time_keys"] = {
            f"signed_curve25519:{name}": self._signed({"key": key})
            for name, key in account.one_time_keys["curve25519"].items()
        }
        if fallback:
            if not account._account.fallback_key:
                account._account.generate_fallback_key()
            upload["fallback_keys"] = {
                f"signed_curve25519:{name}": self._signed({"key": key.to_base64(), "fallback": True})
                for name, key in account._account.fallback_key.items()
            }
        self.olm.save_account()
        return upload

    def _signed(self, thing: dict[str, Any]) -> dict[str, Any]:
        signature = self.olm.sign_json(deepcopy(thing))
        return {**thing, "signatures": {self.user_id: {f"ed25519:{self.device_id}": signature}}}

    # --- the devices of others

    def devices_of(self, users: Collection[str]) -> set[Device]:
        return {(user, each.id) for user in users for each in self.device_store.active_user_devices(user)}

    def without_session(self, users: Collection[str]) -> dict[str, list[str]]:
        """The devices with which there is no Olm session, by user."""
        return dict(self.olm.get_missing_sessions(sorted(users)))

    def renew_session(self, user: str, sender_key: str) -> None:
        """Queues a device for a new Olm session where ours is more than an hour old."""
        self.olm._mark_device_for_unwedging(user, sender_key)

    # --- room keys from others

    def sender_key(self, room: str, session: str) -> str | None:
        """Who made a room key; None if it is not here."""
        found = (sender for sender, each in self.olm.inbound_group_store[room].items() if session in each)
        return next(found, None)

    # --- room keys of our own

    def needs_sharing(self, room: str) -> bool:
        """Whether the room's next message takes a key that is not fully shared."""
        return bool(self.olm.should_share_group_session(room))

    def without_room_key(self, room: str, users: Collection[str]) -> set[Device]:
        session = self.olm.outbound_group_sessions[room]
        return self.devices_of(users) - session.users_shared_with - session.users_ignored  # type: ignore[no-any-return]

    def with_room_key(self, room: str) -> set[Device]:
        return set(self.olm.outbound_group_sessions[room].users_shared_with)

    def forget_room_key(self, room: str) -> None:
        """The next message takes a new one. (nio's own `invalidate_outbound_session` keeps one half shared.)"""
        self.olm.outbound_group_sessions.pop(room, None)

    def share_room_key(self, room: str, users: Collection[str]) -> list[tuple[set[Device], dict[str, Any]]]:
        """Messages with the key of a room for all devices that lack it: the same key goes on unless it has expired.

        Each goes with the devices that it is for. Tell nio of each that was sent, and `room_key_shared` after the last.
        """
        session = self.olm.outbound_group_sessions.get(room)
        if session is not None and session.expired:
            self.forget_room_key(room)
        elif session is not None:
            session.shared = False  # or nio would make another
        return list(self.olm.share_group_session_parallel(room, sorted(users), ignore_unverified_devices=True))

    def room_key_shared(self, room: str) -> None:
        if (session := self.olm.outbound_group_sessions.get(room)) is not None:  # else it was forgotten meanwhile
            session.mark_as_shared()

    # --- what is dropped

    def absent_rooms(self) -> set[str]:
        """Encrypted rooms of which something is kept, and that the bot is not in. All rooms must be known."""
        return set(self.encrypted_rooms).difference(self.rooms)

    def absent_people(self) -> set[str]:
        """People of whom something is kept, and who are in no room with the bot. All rooms must be known."""
        present = {self.user_id}.union(*(room.users for room in self.rooms.values()))
        return {user for user, devices in self.device_store.items() if devices} - present

    def drop(self, rooms: Collection[str], people: Collection[str]) -> None:
        """Keeps only the Olm sessions with their devices: people who come back go on with these."""
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
