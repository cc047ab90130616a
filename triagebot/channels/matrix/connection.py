"""The connection to a homeserver: one account, one device, seen and used in plain values.

    connection = Connection("https://matrix.example.org", "@bot:example.org", data_folder, cipher, password="…")
    await connection.open()
    look = await connection.look(place)  # keep what it saw together with look.place, then look again
    await connection.send(room, "m.room.message", {"msgtype": "m.text", "body": "…"}, "an id of this message's own")

Rules of this file:
- keys are tended beside the looking, so that nobody waits for it;
- what is sent to a room that was upgraded goes to the one that took its place;
- what the server refuses is Gone when the bot is not in the room, whatever words the server has for it.
"""

import asyncio
import json
import logging
from collections import defaultdict
from collections.abc import Collection, Mapping
from http import HTTPStatus
from pathlib import Path
from typing import Any

from nio.exceptions import EncryptionError, GroupEncryptionError

from triagebot.channels.matrix import media
from triagebot.channels.matrix.cross_signing import published, vouch
from triagebot.channels.matrix.events import Reader
from triagebot.channels.matrix.http import LARGEST, Denied, Line, MatrixAway, MatrixRefused, path_of
from triagebot.channels.matrix.key_sharing import Sharing
from triagebot.channels.matrix.keys import Keys
from triagebot.channels.matrix.rooms import Invite, Look
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.channels.matrix.session import Drawer, Login, enter, log_in
from triagebot.channels.matrix.sync import ARRIVAL, Looker
from triagebot.errors import StoreError
from triagebot.messages import Gone, Refused, Transient
from triagebot.store.encryption import Cipher

__all__ = ["Connection", "Invite", "Look", "MatrixAway", "MatrixRefused"]

log = logging.getLogger(__name__)

#: Seconds for signs of life that nobody needs; how long (s) "is typing" stands unless it is said again.
BRIEFLY, TYPING = 10.0, 30.0


class Connection:
    """One bot account and device; used in one event loop. `bridges`: accounts that a bridge needs in a room, and that
    are nobody there. `password` or `token`: what to log in with (a token counts before a password).

    Once open, `user_id`, `device_id` and `name` are the bot's own; `vouched` says whether its account has signed the
    device, so that clients show no warning.
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
        self.vouched = False
        self._line = Line(server)
        self._data, self._seal = data, cipher
        self._password, self._token = password, token
        self._bridges = frozenset(bridges)
        self._ready = False
        self._open_keys: Keys | None = None
        self._locks: defaultdict[str, asyncio.Lock] = defaultdict(asyncio.Lock)
        self._tending: asyncio.Task[None] | None = None

    # --- coming and going -------------------------------------------------------------------------------------------

    async def open(self) -> None:
        """Goes on with the login that is kept, or logs in; publishes keys; has the account vouch for the device.

        Raises MatrixRefused when this account cannot be used as it is set up, MatrixAway when the server gives no
        answer (then it may be opened again), StoreError when the data folder cannot be used.
        """
        try:
            self._drawer = Drawer(self._data, self._seal)
            login = await enter(self._line, self._drawer, self.user_id, self._password, self._token)
            self.user_id, self.device_id = login.user, login.device
            if self._open_keys is None:
                self._open_keys = Keys(self._line, self._drawer, login)
            self._sharing = Sharing(self._line, self._keys)
            await self._present(login)
            self.name = await self._own_name()
        except Denied as error:
            raise MatrixRefused(f"matrix: the homeserver refuses what a bot needs ({error})") from None
        again = self._enter_again if self._password and not self._token else None
        reader = Reader(self.user_id, self.name)
        self._ready = True
        self._looker = Looker(self._line, self._keys, reader, self._bridges, again, self.join)

    async def _enter_again(self) -> None:
        await self._present(await log_in(self._line, self._drawer, self._login, self._password))

    async def _present(self, login: Login) -> None:
        """Others know the device, and that it is the account's own."""
        shown = await published(self._line, self._keys)
        self._login, self.vouched = await vouch(self._line, self._drawer, login, shown, self._password)

    async def _own_name(self) -> str:
        try:
            given = await self._line.ask("GET", path_of("profile", self.user_id, "displayname"))
        except Denied:
            given = {}
        name = given.get("displayname")
        return name if isinstance(name, str) and name else self.user_id.removeprefix("@").partition(":")[0]

    async def close(self) -> None:
        """Hangs up for good. The server is told nothing, and the login stays."""
        self._ready = False
        if self._tending is not None:
            self._tending.cancel()
            await asyncio.gather(self._tending, return_exceptions=True)
        await self._line.hang_up()
        if self._open_keys is not None:
            self._open_keys.close()
            self._open_keys = None

    @property
    def _keys(self) -> Keys:
        if self._open_keys is None:
            raise RuntimeError("the connection is not open")
        return self._open_keys

    # --- looking ----------------------------------------------------------------------------------------------------

    async def look(self, place: str | None) -> Look:
        """What happened since a place, held while nothing does; from now on if there is none.

        Raises MatrixAway, MatrixRefused, StoreError; the place stays good then.
        """
        found = await self._looker.look(place)
        if self._keys.untidy and (self._tending is None or self._tending.done()):
            self._tending = asyncio.create_task(self._tend())
        return found

    async def _tend(self) -> None:
        """What is not done now is done after a later look."""
        try:
            await self._keys.tend()
        except (MatrixAway, Denied, StoreError) as error:
            log.info("matrix: keys are tended later (%s)", error)

    # --- sending ----------------------------------------------------------------------------------------------------

    async def send(self, room: str, kind: str, content: Mapping[str, Any], tx: str) -> str:
        """The event's id; "" for a reaction that stands already. The same `tx` in the same room is the same event,
        whatever happened in between; encrypted where the room is.

        Raises RetryAfter, Transient, Gone, Refused.
        """
        try:
            room = await self._where(room)
            if not self._keys.rooms[room].encrypted or kind == "m.reaction":
                return await self._put(path_of("rooms", room, "send", kind, tx), content, room)
            async with self._locks[room]:
                await self._sharing.share(room)
                sealed = self._sharing.close_up(room, kind, content)
            return await self._put(path_of("rooms", room, "send", "m.room.encrypted", tx), sealed, room)
        except MatrixAway as error:
            raise media.later(error) from None
        except Denied as error:
            if error.code == "M_DUPLICATE_ANNOTATION":
                return ""
            raise await self._undelivered(error, room) from None
        except ValueError as error:
            raise Refused(f"it cannot be written ({type(error).__name__})") from None
        except (EncryptionError, GroupEncryptionError, KeyError, MatrixRefused, StoreError) as error:
            raise Transient(f"it cannot be sent now ({type(error).__name__})") from None

    async def _put(self, path: str, content: Mapping[str, Any], room: str) -> str:
        given = await self._line.ask("PUT", path, content)
        event = given.get("event_id")
        if not isinstance(event, str):
            raise MatrixAway("the server names no event")
        self._looker.remember(event, True)
        return event

    async def _where(self, room: str) -> str:
        """The room to send to. Raises Gone, Transient, MatrixAway, MatrixRefused, StoreError."""
        if not self._ready:
            raise Transient("there is no connection to the homeserver")
        await self._looker.arrived()
        room = self._looker.standing.latest(room)
        if room not in self._keys.rooms:
            raise Transient("the room is not known yet") if await self._inside(room) else Gone("not in the room")
        return room

    async def _inside(self, room: str) -> bool:
        try:
            given = await self._line.ask("GET", path_of("joined_rooms"))
        except Denied:
            return True  # logged out; whoever looks will find out
        return room in (given.get("joined_rooms") or ())

    async def _undelivered(self, error: Denied, room: str) -> Exception:
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
            if room in self._looker.standing.followers:
                return Transient("the room has moved, and the new one does not let us in yet")
        return Refused(str(error))

    # --- files ------------------------------------------------------------------------------------------------------

    async def upload(self, data: bytes, media_type: str, encrypted: bool) -> Mapping[str, Any]:
        """Where a file lies now: `url`, and what opens it if it was sealed. Raises RetryAfter, Transient, Refused."""
        return await media.upload(self._line, data, media_type, encrypted)

    async def fetch(self, file: Mapping[str, Any], most: int) -> bytes:
        """A file in clear, of at most `most` bytes. Raises RetryAfter, Transient, Gone, Refused (TooLarge)."""
        return await media.fetch(self._line, file, most)

    # --- rooms ------------------------------------------------------------------------------------------------------

    async def join(self, room: str, via: str = "") -> bool:
        """Comes in, and knows who is there. False when the bot is not let in. Raises MatrixAway."""
        try:
            await self._line.ask("POST", path_of("join", room, **({"via": via} if via else {})), {})
            given = await self._line.exchange("GET", path_of("rooms", room, "state"), None, "", ARRIVAL, LARGEST)
        except Denied as error:
            log.warning("matrix: a room does not let the bot in (%s)", error)
            return False
        try:
            state = json.loads(given[1] or b"")
        except ValueError:
            state = None
        if given[0] == HTTPStatus.OK and isinstance(state, list):  # else it is learned with the next look
            self._keys.take({"rooms": {"join": {room: {"state": {"events": state}}}}})
        return True

    async def named(self, alias: str) -> str:
        """The room that an alias leads to; "" where the server knows none. Raises MatrixAway."""
        try:
            return str((await self._line.ask("GET", path_of("directory", "room", alias))).get("room_id", ""))
        except Denied:
            return ""

    async def leave(self, room: str) -> None:
        """Goes, or declines an invitation, as well as that can be done."""
        await self._try("POST", path_of("rooms", room, "leave"), {})

    def rooms(self) -> tuple[str, ...]:
        """Those that the bot is in."""
        return tuple(self._looker.standing.rooms)

    def members(self, room: str) -> int:
        """How many are in a room or invited to it, the bot and bridges included; 0 for one that is not known."""
        known = self._keys.rooms.get(room)
        return 0 if known is None else len(known.users)

    def room(self, room: str) -> Room | None:
        """A room that the bot is in, as it stands now."""
        return self._looker.room(room)

    async def typing(self, room: str, on: bool) -> None:
        if not self._ready:
            return
        body = {"typing": True, "timeout": int(TYPING * 1000)} if on else {"typing": False}
        await self._try("PUT", path_of("rooms", self._looker.standing.latest(room), "typing", self.user_id), body)

    async def read(self, room: str, event: str) -> None:
        await self._try("POST", path_of("rooms", room, "receipt", "m.read", event), {})

    async def ask_for_key(self, seen: Seen) -> None:
        """Asks the device that wrote something which cannot be read for its key, once a key. Never raises."""
        for each in self._looker.standing.locked:
            if each.raw.get("event_id") == seen.id:
                self._keys.want(each.room, each.raw)
        await self._tend()

    async def _try(self, method: str, path: str, body: Mapping[str, Any]) -> None:
        try:
            await self._line.ask(method, path, body, within=BRIEFLY)
        except (MatrixAway, Denied) as error:
            log.info("matrix: a sign of life came to nothing (%s)", error)
