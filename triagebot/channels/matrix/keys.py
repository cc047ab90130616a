"""The keys of the bot's device: which devices it knows, what it can decrypt, and how all of that is kept.

nio keeps the state (members, devices, Olm and Megolm sessions); the requests are ours, since nio's lose messages or log
the bot out on a bad line (`NOTES.md`). Decided here and nowhere else:

- What one answer of the server brings is on the disk whole or not at all, and before anything that follows from it is
  sent. So neither a kill nor a full disk leaves a key half taken in, or two messages encrypted alike.
- nio is given only memberships, that a room is encrypted, and encrypted messages between devices, in clean form. What
  it cannot digest (and an attacker can make such things) is passed over, one by one.
- Keys are saved before they are published, and published while half of them are left; a fallback key serves people who
  come when all are gone.
"""

import logging
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from time import monotonic
from typing import Any
from uuid import uuid4

import nio

from triagebot.channels.matrix.http import Denied, HttpClient, path_of
from triagebot.channels.matrix.nio_internals import MEGOLM, CryptoClient, disk_error
from triagebot.channels.matrix.rooms import Raw, content_of, mapping
from triagebot.channels.matrix.session import AccountFolder, Login
from triagebot.channels.matrix.store_encryption import TextCipher
from triagebot.store import errors
from triagebot.store.engines.sqlite import faults_told

log = logging.getLogger(__name__)

STORE = "keys.db"
#: Seconds before a device that had no one-time key left is tried again.
TRIED_AGAIN = 600.0

_OTHER_KEY = "was closed with another key than the present one; put the right key file back, or move the folder away"


class Keys:
    """The keys of one login, in its folder; used in one event loop."""

    def __init__(self, http: HttpClient, folder: AccountFolder, login: Login) -> None:
        """Raises StoreError when the keys cannot be read."""
        self.user, self.device = login.user, login.device
        self._http, self._folder = http, folder
        self.reloads = 0  # after each, all rooms have to be learned again
        self._fallback_unused = True
        self._tried_in_vain: dict[tuple[str, str], float] = {}
        self._client: CryptoClient | None = None
        self._load()

    # --- on the disk ------------------------------------------------------------------------------------------------

    def _load(self) -> None:
        self.close()
        file, derive = self._folder.private(STORE), self._folder.cipher.lookup_hash
        # One cipher for the whole file, in which an account may have had other devices; pickles have a key a device.
        cipher, pickle_key = TextCipher(derive("matrix names")), derive("matrix keys", self.user, self.device)
        with self._disk_errors():
            try:
                self._client = CryptoClient(self.user, self.device, file, pickle_key, cipher)
            except ValueError:  # nio's own, of many kinds
                raise errors.fault(file, _OTHER_KEY) from None
        self._unchecked = True

    @property
    def client(self) -> CryptoClient:
        """Raises StoreError when it had to be loaded again, and could not be."""
        if self._client is None:
            self._load()
        assert self._client is not None
        return self._client

    @contextmanager
    def _disk_errors(self) -> Iterator[None]:
        """Raises StoreError for what is wrong with the disk."""
        with faults_told(self._folder.path / STORE):
            try:
                yield
            except Exception as error:
                if (cause := disk_error(error)) is not None:
                    raise cause from None
                raise

    @contextmanager
    def atomic(self) -> Iterator[None]:
        """What is done inside is on the disk whole, or as if it had never been."""
        try:
            with self._disk_errors(), self.client.atomic():
                yield
        except BaseException:
            self.close()  # memory has gone on without the disk
            self.reloads += 1
            raise

    def close(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.close()

    # --- what the server says -----------------------------------------------------------------------------------------

    @property
    def rooms(self) -> Mapping[str, Any]:
        """The rooms that are known, with `users` and `encrypted`."""
        rooms: Mapping[str, Any] = self.client.rooms
        return rooms

    def take(self, given: Mapping[str, Any]) -> None:
        """Takes in an answer to a sync: members, encryption, devices, keys; all or, with StoreError, none of it."""
        reduced = {
            "next_batch": str(given.get("next_batch", "")),
            "rooms": {"join": {room: _reduced(info) for room, info in mapping(given, "rooms", "join").items()}},
            "to_device": {"events": [e for e in mapping(given, "to_device").get("events") or () if _is_encrypted(e)]},
            "device_lists": mapping(given, "device_lists"),
        }
        self.client.next_batch = None  # the same answer is taken in again: the first time may have come to nothing
        with self.atomic():
            answer = nio.SyncResponse.from_dict(reduced)
            if isinstance(answer, nio.SyncResponse):
                self.client.receive_response(answer)
            else:
                log.error("matrix: nio cannot read the server's sync; members and keys may be out of date")
        for room in mapping(given, "rooms", "leave"):
            self.client.rooms.pop(room, None)
            self.client.forget_room_key(room)
        counts = given.get("device_one_time_keys_count")
        if isinstance(counts, Mapping):
            self.client.set_one_time_keys_left(int(counts.get("signed_curve25519", 0)))
        unused = given.get("device_unused_fallback_key_types")
        if isinstance(unused, list):
            self._fallback_unused = "signed_curve25519" in unused

    def drop_absent(self, given: Mapping[str, Any]) -> None:
        """Drops what is kept of rooms and people that the bot had nothing to do with any more before an answer to a
        sync: a room left in that very answer is still needed to read it. All rooms must be known. Raises StoreError."""
        named = {kind: mapping(given, "rooms", kind).keys() for kind in ("join", "invite", "leave")}
        left = bool(named["leave"] or mapping(given, "device_lists").get("left"))
        if not (self._unchecked or left):
            return
        rooms, people = self.client.absent_rooms().difference(*named.values()), self.client.absent_people()
        if rooms or people:
            with self.atomic():
                self.client.drop(rooms, people)
        self._unchecked = left

    # --- decrypting ---------------------------------------------------------------------------------------------------

    def decrypt(self, room: str, raw: Raw) -> Raw | None:
        """An encrypted event in clear; None if it cannot be decrypted."""
        content = dict(content_of(raw))
        session = content.get("session_id")
        sender_key = self.client.sender_key(room, session) if isinstance(session, str) else None
        if content.get("algorithm") != MEGOLM or sender_key is None:
            return None
        # Clients need no longer say these two; nio looks keys up by them.
        content.setdefault("sender_key", sender_key)
        content.setdefault("device_id", "")
        event = nio.MegolmEvent.from_dict({**raw, "content": content, "unsigned": {}})
        if not isinstance(event, nio.MegolmEvent):
            return None
        event.room_id = room
        try:
            clear = self.client.decrypt_event(event).source
        except Exception:
            return None
        return clear if isinstance(clear, dict) else None

    def request_key(self, room: str, raw: Raw) -> None:
        """Queues a request for the key of an event to the sender's device, once; and a new session with it where ours
        is old. Both go out with the next `maintain`."""
        client = self.client
        event = nio.MegolmEvent.from_dict({**raw, "content": {"sender_key": "", "device_id": "*", **content_of(raw)}})
        if not isinstance(event, nio.MegolmEvent) or event.session_id in client.outgoing_key_requests:
            return
        event.room_id = room
        queued = (getattr(each, "session_id", None) for each in client.outgoing_to_device_messages)
        if event.session_id not in queued:
            request = event.as_key_request(event.sender, self.device, event.session_id, event.device_id or "*")
            client.outgoing_to_device_messages.append(request)
        client.renew_session(event.sender, event.sender_key)

    # --- maintenance --------------------------------------------------------------------------------------------------

    @property
    def needs_maintenance(self) -> bool:
        client = self.client
        asked = client.users_for_key_query or client.outgoing_to_device_messages
        return bool(self._needs_upload() or asked or self._to_claim())

    async def maintain(self) -> None:
        """Publishes keys, learns of devices, renews sessions, asks for keys. Raises MatrixAway, Denied, StoreError."""
        if self._needs_upload():
            await self.publish()
        await self.query_devices(set(self.client.users_for_key_query))
        if wanted := self._to_claim():
            await self.claim(wanted)
        for message in list(self.client.outgoing_to_device_messages):
            try:
                await self._http.request("PUT", path_of("sendToDevice", message.type, uuid4().hex), message.as_dict())
            except Denied as error:
                log.warning("matrix: a message between devices is refused (%s)", error)
            with self.atomic():
                self.client.receive_response(nio.ToDeviceResponse(message))

    def _needs_upload(self) -> bool:
        return not self._fallback_unused or self.client.needs_upload()

    def _to_claim(self) -> dict[str, list[str]]:
        """Devices whose sessions are to be renewed, but for those that were tried lately."""
        if not self.client.should_claim_keys:
            return {}
        wanted: Mapping[str, list[str]] = self.client.get_users_for_key_claiming()
        due = {user: [device for device in devices if self.may_claim(user, device)] for user, devices in wanted.items()}
        return {user: devices for user, devices in due.items() if devices}

    async def publish(self) -> None:
        """The device's own keys and one-time keys. Raises MatrixAway, Denied, StoreError."""
        try:
            await self._upload()
        except Denied as error:
            if "already exists" not in str(error.given.get("error", "")):
                raise
            with self.atomic():
                self.client.give_up_one_time_keys()
            await self._upload()

    async def _upload(self) -> None:
        with self.atomic():
            upload = self.client.keys_to_upload(fallback=not self._fallback_unused)
        given = await self._http.request("POST", path_of("keys", "upload"), upload)
        counts = mapping(given, "one_time_key_counts")
        with self.atomic():
            self.client.receive_response(nio.KeysUploadResponse(0, int(counts.get("signed_curve25519", 0))))
        self._fallback_unused = True

    def set_unpublished(self) -> None:
        """The server has lost the device's keys: they are to be published again."""
        with self.atomic():
            self.client.set_unpublished()

    async def query_devices(self, users: set[str]) -> None:
        """Learns which devices these people have now."""
        if not users:
            return
        given = await self._http.request("POST", path_of("keys", "query"), {"device_keys": dict.fromkeys(users, ())})
        found = mapping(given, "device_keys")
        with self.atomic():
            for user in users & found.keys():
                self._undelete(user, found[user])
                answer = nio.KeysQueryResponse.from_dict({"device_keys": {user: found[user]}, "failures": {}})
                if isinstance(answer, nio.KeysQueryResponse):
                    self.client.receive_response(answer)
            # People whose server is away are queried when they next write or come in: the others must not wait for it.
            self.client.users_for_key_query.difference_update(users)

    def _undelete(self, user: str, devices: Any) -> None:
        """Devices that had been logged out and are there once more, which nio never believes."""
        known = self.client.device_store[user]
        returned = {each: known[each] for each in (devices or ()) if each in known and known[each].deleted}
        for device in returned.values():
            device.deleted = False
        if returned:
            self.client.store.save_device_keys({user: returned})

    async def claim(self, wanted: Mapping[str, list[str]]) -> None:
        """An Olm session with each of these devices, as far as they have one-time keys left."""
        keys = {user: dict.fromkeys(devices, "signed_curve25519") for user, devices in wanted.items()}
        given = await self._http.request("POST", path_of("keys", "claim"), {"one_time_keys": keys})
        now, found = monotonic(), mapping(given, "one_time_keys")
        for user, devices in wanted.items():
            with self.atomic():
                answer = nio.KeysClaimResponse.from_dict({"one_time_keys": {user: found.get(user, {})}, "failures": {}})
                if isinstance(answer, nio.KeysClaimResponse):
                    self.client.receive_response(answer)
            lacking = self.client.without_session([user]).get(user, ())
            self._tried_in_vain |= {(user, device): now for device in devices}
            for device in set(devices).difference(lacking):
                del self._tried_in_vain[user, device]

    def claim_again(self, users: Collection[str]) -> None:
        """Devices of these people that had no one-time key left are tried again at once."""
        self._tried_in_vain = {who: when for who, when in self._tried_in_vain.items() if who[0] not in users}

    def may_claim(self, user: str, device: str) -> bool:
        """Whether a device had a one-time key left when it was tried last, or that is a while ago."""
        return monotonic() - self._tried_in_vain.get((user, device), -TRIED_AGAIN) >= TRIED_AGAIN


def _is_encrypted(raw: Any) -> bool:
    """Only encrypted messages between devices matter: others could be from anybody."""
    return (
        isinstance(raw, Mapping) and raw.get("type") == "m.room.encrypted" and isinstance(raw.get("content"), Mapping)
    )


def _reduced(info: Any) -> dict[str, Any]:
    """Of a room's events only who is in it, what they are called, and that it is encrypted; nothing of wrong types."""
    parts = (mapping(info, part).get("events") or () for part in ("state", "timeline"))
    state, timeline = ([clean for raw in events if (clean := _clean(raw))] for events in parts)
    return {"state": {"events": state}, "timeline": {"events": timeline, "limited": False, "prev_batch": "-"}}


def _clean(raw: Any) -> dict[str, Any] | None:
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
