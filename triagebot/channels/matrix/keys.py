"""The keys of the bot's device: whose devices are known, what opens what they write, and where they are kept.

The library's bookkeeping (Olm, Megolm, devices, members) is used without any of its requests, each of which loses
messages or logs the bot out when the line is bad. Decided here and nowhere else:

- What one answer of the server brings is on the disk whole or not at all, and is there before anything that follows
  from it is sent: so neither a kill nor a full disk leaves a key half taken in, or a message sealed twice alike.
- Keys are saved before they are published, and published while half of them are left; one more is left as the last
  resort for those who come when all are gone.
- What the library cannot digest (and an attacker can make such things) is passed over, one by one.
"""

import logging
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from copy import deepcopy
from time import monotonic
from typing import Any
from uuid import uuid4

import nio

from triagebot.channels.matrix.crypto_store import MEGOLM, Books, Store, membership, of_the_disk, sealed
from triagebot.channels.matrix.http import Denied, Line, path_of
from triagebot.channels.matrix.rooms import Raw, content_of, mapping
from triagebot.channels.matrix.session import Drawer, Login
from triagebot.channels.matrix.store_encryption import Closing
from triagebot.store import errors
from triagebot.store.database import faults_told

log = logging.getLogger(__name__)

STORE = "keys.db"
#: Seconds before a device that had no key to share with is tried again, and before a session is mended again.
TRIED_AGAIN = 600.0

_OTHER_KEY = "was closed with another key than the present one; put the right key file back, or move the folder away"


class Keys:
    """The keys of one login, which lie in its drawer; used in one event loop."""

    def __init__(self, line: Line, drawer: Drawer, login: Login) -> None:
        """Raises StoreError when the keys cannot be read."""
        self.user, self.device = login.user, login.device
        self._line = line
        self._drawer = drawer
        self.opened = 0  # how often it had to be read anew; rooms have to be learned anew then
        self._fallback = True
        self._barren: dict[tuple[str, str], float] = {}
        self._books: Any = None
        self._load()

    # --- on the disk ------------------------------------------------------------------------------------------------

    def _load(self) -> None:
        self._drawer.private(STORE)
        config = nio.ClientConfig(
            store=Store,
            store_name=STORE,
            pickle_key=self._drawer.cipher.lookup_hash("matrix keys", self.user, self.device),
            store_sync_tokens=False,
        )
        self.close()
        # One for the whole file, in which an account may have had other devices; the pickles have one a device.
        closing = Closing(self._drawer.cipher.lookup_hash("matrix names"))
        books = Books(self.user, self.device, str(self._drawer.folder), config, closing)
        with self._told():
            try:
                books.restore_login(self.user, self.device, "-")
            except ValueError:  # the library's own, of many kinds
                raise errors.fault(self._drawer.folder / STORE, _OTHER_KEY) from None
        self._books = books
        self._leftovers = True

    @property
    def books(self) -> Any:
        """The library's bookkeeping. Raises StoreError when it had to be read anew, and could not be."""
        if self._books is None:
            self._load()
        return self._books

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Says what is wrong with the disk in our words."""
        with faults_told(self._drawer.folder / STORE):
            try:
                yield
            except Exception as error:
                if (cause := of_the_disk(error)) is not None:
                    raise cause from None
                raise

    @contextmanager
    def whole(self) -> Iterator[None]:
        """What is done inside is on the disk whole, or as if it had never been."""
        try:
            with self._told(), self.books.store.database.atomic():
                yield
        except BaseException:
            self.close()  # what is in memory has gone on without the disk
            self.opened += 1
            raise

    def close(self) -> None:
        books, self._books = self._books, None
        if books is not None and books.store is not None:
            books.store.database.close()

    # --- what the server says -----------------------------------------------------------------------------------------

    @property
    def rooms(self) -> Mapping[str, Any]:
        """The rooms that are known, with `users` and `encrypted`."""
        rooms: Mapping[str, Any] = self.books.rooms
        return rooms

    def take(self, given: Mapping[str, Any]) -> None:
        """Takes in an answer to a sync: members, encryption, devices, keys; all or, with StoreError, none of it."""
        rooms = {name: membership(info) for name, info in mapping(given, "rooms", "join").items()}
        devices = [each for each in mapping(given, "to_device").get("events") or () if sealed(each)]
        reduced = {
            "next_batch": str(given.get("next_batch", "")),
            "rooms": {"join": rooms},
            "to_device": {"events": devices},
            "device_lists": mapping(given, "device_lists"),
        }
        self.books.next_batch = None  # the same answer is taken in again: the first time may have come to nothing
        with self.whole():
            answer = nio.SyncResponse.from_dict(reduced)
            if isinstance(answer, nio.SyncResponse):
                self.books.receive_response(answer)
            else:
                log.error("matrix: the server's news are of no known form; members and keys may be out of date")
        for room in mapping(given, "rooms", "leave"):
            self.forget(room)
        counts = given.get("device_one_time_keys_count")
        if isinstance(counts, Mapping):
            self.books.olm.uploaded_key_count = int(counts.get("signed_curve25519", 0))
        unused = given.get("device_unused_fallback_key_types")
        if isinstance(unused, list):
            self._fallback = "signed_curve25519" in unused

    def forget(self, room: str) -> None:
        """The bot is no longer in a room."""
        self.books.rooms.pop(room, None)
        self.books.olm.outbound_group_sessions.pop(room, None)

    def part_with_absent(self, given: Mapping[str, Any]) -> None:
        """Keeps nothing more about rooms and people that the bot has nothing to do with since before an answer to a
        sync; what it says that was left is needed to read it. All rooms must be known. Raises StoreError."""
        named = {kind: mapping(given, "rooms", kind).keys() for kind in ("join", "invite", "leave")}
        lately = bool(named["leave"] or mapping(given, "device_lists").get("left"))
        if not (self._leftovers or lately):
            return
        rooms, people = self.books.absent_rooms().difference(*named.values()), self.books.absent_people()
        if rooms or people:
            with self.whole():
                self.books.part_with(rooms, people)
        self._leftovers = lately

    # --- reading ------------------------------------------------------------------------------------------------------

    def can_open(self, room: str, session: str) -> bool:
        return self._sender_key(room, session) is not None

    def _sender_key(self, room: str, session: str) -> str | None:
        for sender, sessions in self.books.olm.inbound_group_store[room].items():
            if session in sessions:
                return str(sender)
        return None

    def open(self, room: str, raw: Raw) -> Raw | None:
        """An encrypted event in clear; None if it cannot be opened."""
        content = dict(content_of(raw))
        session = content.get("session_id")
        if content.get("algorithm") != MEGOLM or not isinstance(session, str) or not self.can_open(room, session):
            return None
        # Clients need no longer say these two; the library looks keys up by them.
        content.setdefault("sender_key", self._sender_key(room, session) or "")
        content.setdefault("device_id", "")
        event = nio.MegolmEvent.from_dict({**raw, "content": content, "unsigned": {}})
        if not isinstance(event, nio.MegolmEvent):
            return None
        event.room_id = room
        try:
            clear = self.books.olm.decrypt_megolm_event(event).source
        except Exception:
            return None
        return clear if isinstance(clear, dict) else None

    def want(self, room: str, raw: Raw) -> None:
        """Asks the sender's device for the key of an event, once; and for a fresh session with it where ours is old.

        The requests go out with the next `tend`.
        """
        olm = self.books.olm
        event = nio.MegolmEvent.from_dict({**raw, "content": {"sender_key": "", "device_id": "*", **content_of(raw)}})
        if not isinstance(event, nio.MegolmEvent) or event.session_id in olm.outgoing_key_requests:
            return
        event.room_id = room
        waiting = (getattr(each, "session_id", None) for each in olm.outgoing_to_device_messages)
        if event.session_id not in waiting:
            asked = event.as_key_request(event.sender, self.device, event.session_id, event.device_id or "*")
            olm.outgoing_to_device_messages.append(asked)
        olm._mark_device_for_unwedging(event.sender, event.sender_key)

    # --- keeping house ------------------------------------------------------------------------------------------------

    @property
    def untidy(self) -> bool:
        """Whether `tend` has something to do."""
        olm = self.books.olm
        asked = olm.users_for_key_query or olm.outgoing_to_device_messages
        return bool(self._publishable() or asked or self._claimable())

    async def tend(self) -> None:
        """Publishes keys, learns of devices, mends sessions, asks for keys. Raises MatrixAway, Denied, StoreError."""
        if self._publishable():
            await self.publish()
        await self.ask_devices(set(self.books.olm.users_for_key_query))
        if wedged := self._claimable():
            await self.claim(wedged)
        for message in list(self.books.olm.outgoing_to_device_messages):
            try:
                await self._line.ask("PUT", path_of("sendToDevice", message.type, uuid4().hex), message.as_dict())
            except Denied as error:
                log.warning("matrix: a message between devices is refused (%s)", error)
            with self.whole():
                self.books.receive_response(nio.ToDeviceResponse(message))

    def _publishable(self) -> bool:
        account, count = self.books.olm.account, self.books.olm.uploaded_key_count
        if not account.shared or not self._fallback:
            return True
        return count is not None and count <= account.max_one_time_keys // 2

    def _claimable(self) -> dict[str, list[str]]:
        """Devices whose sessions are broken, but for those that were tried lately."""
        wanted: dict[str, list[str]] = {}
        for device in self.books.olm.wedged_devices:
            if self.due(device.user_id, device.id):
                wanted.setdefault(device.user_id, []).append(device.id)
        return wanted

    async def publish(self) -> None:
        """The device's own keys and one-time keys. Raises MatrixAway, Denied, StoreError."""
        try:
            await self._publish()
        except Denied as error:
            if "already exists" not in str(error.given.get("error", "")):
                raise
            with self.whole():  # keys of these names were published before, and lost
                self.books.olm.mark_keys_as_published()
                self.books.olm.save_account()
            await self._publish()

    async def _publish(self) -> None:
        olm = self.books.olm
        account = olm.account
        upload: dict[str, Any] = {}
        with self.whole():
            if not account.shared:
                upload["device_keys"] = self._device_keys()
            wanted = account.max_one_time_keys - (olm.uploaded_key_count or 0)
            wanted -= len(account.one_time_keys["curve25519"])  # those of an attempt that was cut off
            if wanted > 0:
                account.generate_one_time_keys(wanted)
            upload["one_time_keys"] = {
                f"signed_curve25519:{name}": self._signed({"key": key})
                for name, key in account.one_time_keys["curve25519"].items()
            }
            if not account.shared or not self._fallback:
                if not account._account.fallback_key:
                    account._account.generate_fallback_key()
                upload["fallback_keys"] = {
                    f"signed_curve25519:{name}": self._signed({"key": key.to_base64(), "fallback": True})
                    for name, key in account._account.fallback_key.items()
                }
            olm.save_account()
        given = await self._line.ask("POST", path_of("keys", "upload"), upload)
        counts = given.get("one_time_key_counts")
        count = int(counts.get("signed_curve25519", 0)) if isinstance(counts, Mapping) else 0
        with self.whole():
            self.books.receive_response(nio.KeysUploadResponse(0, count))
        self._fallback = True

    def _device_keys(self) -> dict[str, Any]:
        keys = self.books.olm.account.identity_keys
        return self._signed(
            {
                "algorithms": ["m.olm.v1.curve25519-aes-sha2", MEGOLM],
                "device_id": self.device,
                "user_id": self.user,
                "keys": {f"{kind}:{self.device}": keys[kind] for kind in ("curve25519", "ed25519")},
            }
        )

    def _signed(self, thing: dict[str, Any]) -> dict[str, Any]:
        signature = self.books.olm.sign_json(deepcopy(thing))
        return {**thing, "signatures": {self.user: {f"ed25519:{self.device}": signature}}}

    def unpublished(self) -> None:
        """The server has lost the device's keys: they are to be published again."""
        with self.whole():
            self.books.olm.account.shared = False
            self.books.olm.save_account()

    @property
    def identity(self) -> str:
        """The public key by which others know the device."""
        return str(self.books.olm.account.identity_keys["ed25519"])

    async def ask_devices(self, users: set[str]) -> None:
        """Learns which devices these people have now."""
        if not users:
            return
        given = await self._line.ask("POST", path_of("keys", "query"), {"device_keys": {user: [] for user in users}})
        found = mapping(given, "device_keys")
        with self.whole():
            for user in users & found.keys():
                self._back_again(user, found[user])
                answer = nio.KeysQueryResponse.from_dict({"device_keys": {user: found[user]}, "failures": {}})
                if isinstance(answer, nio.KeysQueryResponse):
                    self.books.receive_response(answer)
            # Whose server is away is asked about when they next write, or come in: all others must not wait for it.
            self.books.olm.users_for_key_query -= users

    def _back_again(self, user: str, devices: Any) -> None:
        """Devices that had been logged out, and are there once more: the library never believes that."""
        known = self.books.device_store[user]
        returned = {each: known[each] for each in (devices or ()) if each in known and known[each].deleted}
        for device in returned.values():
            device.deleted = False
        if returned:
            self.books.store.save_device_keys({user: returned})

    async def claim(self, wanted: Mapping[str, list[str]]) -> None:
        """A session with each of these devices, as far as they have keys left."""
        keys = {user: dict.fromkeys(devices, "signed_curve25519") for user, devices in wanted.items()}
        given = await self._line.ask("POST", path_of("keys", "claim"), {"one_time_keys": keys})
        now, found = monotonic(), mapping(given, "one_time_keys")
        for user, devices in wanted.items():
            self._barren |= {(user, device): now for device in devices}
            with self.whole():
                answer = nio.KeysClaimResponse.from_dict({"one_time_keys": {user: found.get(user, {})}, "failures": {}})
                if isinstance(answer, nio.KeysClaimResponse):
                    self.books.receive_response(answer)
            lacking = self.books.olm.get_missing_sessions([user]).get(user, ())
            for device in set(devices).difference(lacking):
                del self._barren[user, device]

    def forgive(self, members: Collection[str]) -> None:
        """Those of these people's devices that had no key left are tried again at once."""
        self._barren = {who: when for who, when in self._barren.items() if who[0] not in members}

    def due(self, user: str, device: str) -> bool:
        """Whether a device may be tried: it had a key left when it was tried last, or that is a while ago."""
        return monotonic() - self._barren.get((user, device), -TRIED_AGAIN) >= TRIED_AGAIN
