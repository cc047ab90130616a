"""The connection to a homeserver: one account, one device; plain values in and out.

    connection = Connection("https://matrix.example.org", "@bot:example.org", data_folder, cipher, password="…")
    await connection.open()
    result = await connection.sync(place)  # keep what it brought together with result.place, then sync again
    await connection.send(room, "m.room.message", {"msgtype": "m.text", "body": "…"}, "an id of this message's own")

Rules of this file:
- Keys are maintained beside the syncs, so that nobody waits for that.
- What is sent to a room that was upgraded goes to the one that replaces it.
- What the server refuses is Gone when the bot is not in the room, whatever words the server has for it.
"""

import asyncio
import logging
from collections import defaultdict
from collections.abc import Collection, Mapping
from http import HTTPStatus
from pathlib import Path
from typing import Any

from nio.exceptions import EncryptionError, GroupEncryptionError

from triagebot.channels.matrix import media
from triagebot.channels.matrix.cross_signing import cross_sign, published_device
from triagebot.channels.matrix.events import EventReader
from triagebot.channels.matrix.http import Denied, HttpClient, MatrixAway, MatrixRefused, json_in, path_of
from triagebot.channels.matrix.key_sharing import KeySharing
from triagebot.channels.matrix.keys import Keys
from triagebot.channels.matrix.rooms import SyncResult, lacks_power
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.channels.matrix.session import AccountFolder, Login, ensure_login, log_in
from triagebot.channels.matrix.sync import FIRST_SYNC, Syncer
from triagebot.errors import StoreError
from triagebot.messages import Gone, Refused, Transient, Withheld
from triagebot.store.encryption import Cipher

log = logging.getLogger(__name__)

#: Seconds for requests that nobody needs; how long (s) "is typing" is shown unless it is said again.
BRIEF, TYPING = 10.0, 30.0
#: Seconds before a room is tried again in which the bot may not speak, unless its power levels change before.
WITHHELD = 60.0


class Connection:
    """One bot account and device, in one event loop. `bridges`: accounts of bridges, which count as nobody in a room.
    `password` or `token`: what to log in with (a token counts before a password).

    Once open, `user_id`, `device_id` and `name` are the bot's own; `cross_signed` says whether its account has signed
    the device, so that clients show no warning.
    """

    def __init__(
        self,
        server: str,
        user: str,
        data: Path,
        cipher: Cipher,
        *,
        password: str = "",
        token: str = "",
        bridges: Collection[str] = (),
    ) -> None:
        self.user_id = user
        self.device_id = ""
        self.name = ""
        self.cross_signed = False
        self._http = HttpClient(server)
        self._data, self._cipher = data, cipher
        self._password, self._token = password, token
        self._bridges = frozenset(bridges)
        self._ready = False
        self._loaded_keys: Keys | None = None
        self._locks: defaultdict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        self._maintaining: asyncio.Task[None] | None = None

    # --- opening and closing ----------------------------------------------------------------------------------------

    async def open(self) -> None:
        """Goes on with the login that is kept, or logs in; publishes keys; has the account sign the device.

        Raises MatrixRefused when this account cannot be used as it is set up, MatrixAway when the server gives no
        answer (then it may be opened again), StoreError when the data folder cannot be used.
        """
        try:
            self._folder = AccountFolder(self._data, self._cipher)
            login = await ensure_login(self._http, self._folder, self.user_id, self._password, self._token)
            self.user_id, self.device_id = login.user, login.device
            if self._loaded_keys is None:
                self._loaded_keys = Keys(self._http, self._folder, login)
            self._sharing = KeySharing(self._http, self._keys)
            await self._publish(login)
            self.name = await self._own_name()
        except Denied as error:
            raise MatrixRefused(f"matrix: the homeserver refuses what a bot needs ({error})") from None
        again = self._log_in_again if self._password and not self._token else None
        reader = EventReader(self.user_id, self.name)
        self._ready = True
        self._syncer = Syncer(self._http, self._keys, reader, self._bridges, again, self.join)

    async def _log_in_again(self) -> None:
        await self._publish(await log_in(self._http, self._folder, self._login, self._password))

    async def _publish(self, login: Login) -> None:
        """Shows others the device, and that it is the account's own."""
        published = await published_device(self._http, self._keys)
        self._login, self.cross_signed = await cross_sign(self._http, self._folder, login, published, self._password)

    async def _own_name(self) -> str:
        try:
            given = await self._http.request("GET", path_of("profile", self.user_id, "displayname"))
        except Denied:
            given = {}
        name = given.get("displayname")
        return name if isinstance(name, str) and name else self.user_id.removeprefix("@").partition(":")[0]

    async def close(self) -> None:
        """For good. The server is told nothing, and the login stays."""
        self._ready = False
        if self._maintaining is not None:
            self._maintaining.cancel()
            await asyncio.gather(self._maintaining, return_exceptions=True)
        await self._http.close()
        if self._loaded_keys is not None:
            self._loaded_keys.close()
            self._loaded_keys = None

    @property
    def _keys(self) -> Keys:
        if self._loaded_keys is None:
            raise RuntimeError("the connection is not open")
        return self._loaded_keys

    # --- syncing ----------------------------------------------------------------------------------------------------

    async def sync(self, place: str | None) -> SyncResult:
        """What happened since a place; waits while nothing does. Without a place, from now on.

        Raises MatrixAway, MatrixRefused, StoreError; the place stays good then.
        """
        found = await self._syncer.sync(place)
        if self._keys.needs_maintenance and (self._maintaining is None or self._maintaining.done()):
            self._maintaining = asyncio.create_task(self._maintain())
        return found

    async def _maintain(self) -> None:
        """What fails now is done after a later sync."""
        try:
            await self._keys.maintain()
        except (MatrixAway, Denied, StoreError) as error:
            log.info("matrix: keys are maintained later (%s)", error)

    # --- sending ----------------------------------------------------------------------------------------------------

    async def send(self, room: str, kind: str, content: Mapping[str, Any], tx: str) -> str:
        """The event's id; "" for a reaction that stands already. The same `tx` in the same room is the same event,
        whatever happened in between; encrypted where the room is.

        Raises RetryAfter, Transient, Gone, Refused.
        """
        try:
            room = await self._target(room)
            if not self._keys.rooms[room].encrypted or kind == "m.reaction":
                return await self._put(path_of("rooms", room, "send", kind, tx), content, content)
            async with self._locks[room]:
                await self._sharing.share(room)
                encrypted = self._sharing.encrypt(room, kind, content)
            return await self._put(path_of("rooms", room, "send", "m.room.encrypted", tx), encrypted, content)
        except MatrixAway as error:
            raise media.later(error) from None
        except Denied as error:
            if error.code == "M_DUPLICATE_ANNOTATION":
                return ""
            raise await self._undelivered(error, room, kind) from None
        except ValueError as error:
            raise Refused(f"it cannot be written ({type(error).__name__})") from None
        except (EncryptionError, GroupEncryptionError, KeyError, MatrixRefused, StoreError) as error:
            raise Transient(f"it cannot be sent now ({type(error).__name__})") from None

    async def _put(self, path: str, sent: Mapping[str, Any], content: Mapping[str, Any]) -> str:
        """Sends what says this `content`, which is as it is, or encrypted."""
        given = await self._http.request("PUT", path, sent)
        event = given.get("event_id")
        if not isinstance(event, str):
            raise MatrixAway("the server names no event")
        self._syncer.remember(event, content)
        return event

    async def _target(self, room: str) -> str:
        """The room to send to. Raises Gone, Transient, MatrixAway, MatrixRefused, StoreError."""
        if not self._ready:
            raise Transient("there is no connection to the homeserver")
        await self._syncer.started()
        room = self._syncer.position.latest(room)
        if room not in self._keys.rooms:
            raise Transient("the room is not known yet") if await self._inside(room) else Gone("not in the room")
        return room

    async def _inside(self, room: str) -> bool:
        try:
            given = await self._http.request("GET", path_of("joined_rooms"))
        except Denied:
            return True  # logged out, as the next sync will find
        return room in (given.get("joined_rooms") or ())

    async def _undelivered(self, error: Denied, room: str, kind: str) -> Exception:
        """What a refusal means to the delivery. A duplicate is none."""
        if error.status == HTTPStatus.UNAUTHORIZED or error.code == "M_RESOURCE_LIMIT_EXCEEDED":
            return Transient(f"the server does not serve us now ({error})")
        if error.status in (HTTPStatus.FORBIDDEN, HTTPStatus.NOT_FOUND):
            try:
                inside = await self._inside(room)
            except MatrixAway as away:
                return media.later(away)
            if not inside:
                return Gone("not in the room")
            if room in self._syncer.position.followers:
                return Transient("the room was upgraded, and the new one does not let us in yet")
            if error.status == HTTPStatus.FORBIDDEN and await self._is_muted(room, kind):
                return Withheld(WITHHELD)
        return Refused(str(error))

    async def _is_muted(self, room: str, kind: str) -> bool:
        """Whether the bot has too little power in a room to say this there."""
        sent = "m.room.encrypted" if self._keys.rooms[room].encrypted and kind != "m.reaction" else kind
        try:
            levels = await self._http.request("GET", path_of("rooms", room, "state", "m.room.power_levels", ""))
        except (MatrixAway, Denied):
            return False
        return lacks_power(levels, self.user_id, sent)

    # --- files ------------------------------------------------------------------------------------------------------

    async def upload(self, data: bytes, media_type: str, encrypted: bool) -> Mapping[str, Any]:
        """Where the file is now: `url`, and what decrypts it. Raises RetryAfter, Transient, Refused."""
        return await media.upload(self._http, data, media_type, encrypted)

    async def fetch(self, file: Mapping[str, Any], most: int) -> bytes:
        """A file in clear, of at most `most` bytes. Raises RetryAfter, Transient, Gone, Refused (TooLarge)."""
        return await media.fetch(self._http, file, most)

    # --- rooms ------------------------------------------------------------------------------------------------------

    async def join(self, room: str, via: str = "") -> bool:
        """Joins, and learns who is there. False when the bot is not let in. Raises MatrixAway."""
        try:
            await self._http.request("POST", path_of("join", room, **({"via": via} if via else {})), {})
            answer = await self._http.raw_request("GET", path_of("rooms", room, "state"), None, "", FIRST_SYNC)
        except Denied as error:
            log.warning("matrix: a room does not let the bot in (%s)", error)
            return False
        state = json_in(answer)
        if answer.status == HTTPStatus.OK and isinstance(state, list):  # else the next sync tells
            self._keys.take({"rooms": {"join": {room: {"state": {"events": state}}}}})
        return True

    async def named(self, alias: str) -> str:
        """The room of an alias; "" where the server knows none. Raises MatrixAway."""
        try:
            return str((await self._http.request("GET", path_of("directory", "room", alias))).get("room_id", ""))
        except Denied:
            return ""

    async def leave(self, room: str, reason: str = "") -> None:
        """Leaves, or declines an invitation. A failure is only logged."""
        await self._try("POST", path_of("rooms", room, "leave"), {"reason": reason} if reason else {})

    def rooms(self) -> tuple[str, ...]:
        """The rooms that the bot is in."""
        return tuple(self._syncer.position.rooms)

    def members(self, room: str) -> int:
        """How many are in a room or invited to it, the bot and bridges included; 0 for one that is not known."""
        known = self._keys.rooms.get(room)
        return 0 if known is None else len(known.users)

    def room(self, room: str) -> Room | None:
        """A room that the bot is in, as it is now."""
        return self._syncer.room(room)

    def room_with(self, user: str) -> str:
        """A room where the bot is alone with somebody; "" for none."""
        rooms = (room for room in self.rooms() if (known := self._keys.rooms.get(room)) and user in known.users)
        return next((room for room in rooms if (now := self.room(room)) and now.direct), "")

    async def typing(self, room: str, on: bool) -> None:
        if not self._ready:
            return
        body = {"typing": True, "timeout": int(TYPING * 1000)} if on else {"typing": False}
        await self._try("PUT", path_of("rooms", self._syncer.position.latest(room), "typing", self.user_id), body)

    async def read(self, room: str, event: str) -> None:
        await self._try("POST", path_of("rooms", room, "receipt", "m.read", event), {})

    async def ask_for_key(self, seen: Seen) -> None:
        """Asks the sender's device for the key of an event that cannot be decrypted, once a key. Never raises."""
        for each in self._syncer.position.undecryptable:
            if each.raw.get("event_id") == seen.id:
                self._keys.request_key(each.room, each.raw)
        await self._maintain()

    async def _try(self, method: str, path: str, body: Mapping[str, Any]) -> None:
        try:
            await self._http.request(method, path, body, timeout=BRIEF)
        except (MatrixAway, Denied) as error:
            log.info("matrix: a request that nobody needs has failed (%s)", error)
