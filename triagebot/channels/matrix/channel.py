"""The channel as the delivery sees it, and the loop that looks what happened in its rooms.

Rules of this file:
- how far was looked is kept in the transaction after that of the messages; only then is the next look taken, and are
  messages marked as read;
- whatever goes wrong while looking is told in one line, and tried again, longer and longer apart;
- the bot comes in by `invites`, greets once in a room for two, and leaves a room where nobody else is left; an
  invitation is kept with the look that brought it until it was followed and the greeting is on the disk.
"""

import asyncio
import json
import logging
import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, Protocol

from triagebot.channels.matrix.http import MatrixAway, MatrixRefused
from triagebot.channels.matrix.invites import Invitations
from triagebot.channels.matrix.presence import Presence
from triagebot.channels.matrix.reading import NAME, Reader
from triagebot.channels.matrix.rooms import Look
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.channels.matrix.sending import Outlet, Post
from triagebot.channels.polling import Failures, Shift
from triagebot.conversation import Guide
from triagebot.delivery import Delivery, Received, place_of
from triagebot.errors import StoreError
from triagebot.messages import Arrived, Gone, Incoming, Outgoing, Receipt, Transient

log = logging.getLogger(__name__)

#: Seconds before a login that was refused is tried again, and before an invitation is that could not be followed.
REFUSED_AGAIN, INVITED_AGAIN = 300.0, (1.0, 5.0, 30.0, 120.0, 600.0)
#: Seconds that a message waits for the connection, before it is put back.
OPEN_WITHIN = 30.0
#: Seconds for which looks that brought nothing are not put down, and those until a room just entered is known.
KEPT_EVERY, KNOWN_WITHIN = 60.0, 30.0


class Connected(Outlet, Protocol):
    """The connection to a homeserver; see `connection`."""

    user_id: str
    name: str

    async def open(self) -> None: ...

    async def look(self, place: str | None) -> Look: ...

    async def fetch(self, file: Mapping[str, Any], most: int) -> bytes: ...

    async def typing(self, room: str, on: bool) -> None: ...

    async def read(self, room: str, event: str) -> None: ...

    async def named(self, alias: str) -> str: ...

    async def join(self, room: str) -> bool: ...

    async def leave(self, room: str) -> None: ...

    def rooms(self) -> Collection[str]: ...

    def members(self, room: str) -> int: ...

    async def ask_for_key(self, seen: Seen) -> None: ...

    async def close(self) -> None: ...


class Matrix:
    """One account. `open` it, have the delivery `serve` it, then `run` it until `stop`; `close` it at the end.
    `staff_room` is the id or the alias of the staff's room, "" for none."""

    name = NAME
    edits = answers_first = True

    def __init__(
        self,
        guide: Guide,
        delivery: Delivery,
        connection: Connected,
        language: str = "en",
        allow: tuple[str, ...] = (),
        bridges: Mapping[str, re.Pattern[str]] | None = None,
        staff_room: str = "",
    ) -> None:
        self._staff_room = staff_room
        self._guide = guide
        self._desk = delivery
        self._connection = connection
        self._language = language if language in guide.spoken else guide.shop.language
        self._allow = allow
        self._bridges = bridges or {}
        self._post = Post(guide, delivery, connection)
        self._presence = Presence(connection)
        self._reader = Reader("", "", self._language, tuple(guide.spoken), self._bridges)
        self._invitations = Invitations("", allow)
        self._entering: dict[str, asyncio.Task[None]] = {}
        #: Rooms that the bot was invited to and may not have greeted yet, and by whom.
        self._calls: dict[str, str] = {}
        self._leaving: set[str] = set()
        self._opened, self._shift = asyncio.Event(), Shift()
        #: What is on the disk: where the next look begins, and what the reader has to know.
        self._place: str | None = None
        self._kept = "{}"
        self._put_down = -math.inf

    # --- for the delivery -------------------------------------------------------------------------------------------

    async def deliver(self, message: Outgoing) -> Receipt:
        await self._connected()
        room = str(message.address["room"])
        if room.startswith("#"):
            if not await self._find_the_staff():
                raise Gone("the homeserver knows no room by this alias")
            room = self._reader.staff
            message = replace(message, address={**message.address, "room": room})
        try:
            return await self._post.deliver(message)
        finally:
            if message.kind != "edit":
                self._presence.end(room)

    async def fetch(self, place: Mapping[str, Any], most: int) -> bytes:
        await self._connected()
        return await self._connection.fetch(place, most)

    def harmless_to_repeat(self, kind: str) -> bool:
        """The server knows a message that it took by its transaction id."""
        return True

    async def _connected(self) -> None:
        try:
            await asyncio.wait_for(self._opened.wait(), OPEN_WITHIN)
        except TimeoutError:
            raise Transient("there is no connection to the homeserver") from None

    # --- opening and closing ----------------------------------------------------------------------------------------

    async def open(self) -> None:
        """Reads how far we had come."""
        self._kept = await self._desk.place(NAME) or "{}"
        kept = json.loads(self._kept)
        self._place = kept.get("look")
        self._reader.restore(kept.get("reader", {}))
        self._calls = dict(kept.get("calls", {}))

    def stop(self) -> None:
        """Ends looking once the look in hand is committed."""
        self._shift.end()

    async def close(self) -> None:
        entering = list(self._entering.values())
        for task in entering:
            task.cancel()
        await asyncio.gather(*entering, return_exceptions=True)
        await self._post.close()
        await self._presence.close()
        await self._connection.close()

    async def run(self) -> None:
        """Looks what happens until `stop`. Whatever goes wrong is said once, and tried again."""
        failures = Failures(NAME, log)
        while not self._shift.ended():
            try:
                if not self._opened.is_set():
                    await self._shift.wait_for(self._connection.open())
                    await self._find_the_staff()
                    self._greet()
                look = await self._shift.wait_for(self._connection.look(self._place))
                await self._take(look)
            except asyncio.CancelledError:
                if not self._shift.ended():
                    raise
            except MatrixRefused as error:
                self._opened.clear()
                await self._shift.pause(failures.next(str(error).removeprefix("matrix: "), REFUSED_AGAIN))
            except MatrixAway as error:
                await self._shift.pause(failures.next(f"no answer from the homeserver ({error})", error.seconds))
            except StoreError as error:
                await self._shift.pause(failures.next(f"messages cannot be kept, so none are fetched ({error})"))
            except Exception as error:
                await self._shift.pause(failures.next(f"a fault of our own ({place_of(error)})"))
            else:
                failures.over()

    async def _find_the_staff(self) -> bool:
        """Finds out which room of the staff's an alias is; gives whether there is one. Raises MatrixAway."""
        if self._staff_room and not self._reader.staff:
            aliased = self._staff_room.startswith("#")
            self._reader.staff = await self._connection.named(self._staff_room) if aliased else self._staff_room
            if not self._reader.staff:
                log.error("matrix: the homeserver knows no room %s, which is to be the staff's", self._staff_room)
        return bool(self._reader.staff)

    def _greet(self) -> None:
        """Who we are is known."""
        user = self._connection.user_id
        self._reader.user, self._reader.name = user, self._connection.name
        self._invitations = Invitations(user, self._allow)
        log.info("matrix: this is %s", user)
        self._opened.set()
        for room, inviter in list(self._calls.items()):
            self._invited(room, inviter)

    # --- taking in --------------------------------------------------------------------------------------------------

    async def _take(self, look: Look) -> None:
        """Takes in what a look has brought; when it returns, all of it is on the disk. Raises StoreError."""
        read = [(seen, self._safely(seen)) for seen in look.seen]
        incoming = [each for _, found in read for each in found]
        for each in incoming:
            self._presence.begin(str(each.address["room"]))
        try:
            received = await self._keep(look, incoming)
        except BaseException:
            self._reader.restore(json.loads(self._kept).get("reader", {}))
            raise
        self._place = look.place
        self._after(incoming, received)
        for seen in look.seen:
            if seen.kind == "locked":
                self._presence.aside(self._connection.ask_for_key(seen))
        for room, seen in {seen.room.id: seen for seen, found in read if found}.items():
            self._presence.read(room, seen.id)
        for invite in look.invites:
            self._invited(invite.room, invite.inviter)
        self._leave_the_empty()
        if any(what.outcome == "forgotten" for what in received):
            await self._put(look, ())  # where they wrote goes from the disk, too

    def _safely(self, seen: Seen) -> tuple[Incoming, ...]:
        """One that we fail on would come again for ever, and hold up all that come after it."""
        try:
            return self._reader.read(seen)
        except Exception as error:
            log.error("matrix: something that was said cannot be read, and is passed over: %s", place_of(error))
            return ()

    async def _keep(self, look: Look, incoming: Sequence[Incoming]) -> list[Received]:
        """A look that brought nothing need not be put down each time: it would bring nothing again."""
        now = asyncio.get_running_loop().time()
        quiet = not (look.seen or look.invites or look.gone or look.moved)
        if quiet and (look.place == self._place or now - self._put_down < KEPT_EVERY):
            return []
        return await self._put(look, incoming)

    async def _put(self, look: Look, incoming: Sequence[Incoming]) -> list[Received]:
        now = asyncio.get_running_loop().time()
        calls = self._calls | {invite.room: invite.inviter for invite in look.invites}
        place = json.dumps({"look": look.place, "reader": self._reader.kept(), "calls": calls})
        received = await self._desk.receive_all(incoming, NAME, place)
        self._kept, self._put_down = place, now
        return received

    def _after(self, incoming: Sequence[Incoming], received: Sequence[Received]) -> None:
        answered = set()
        for message, what in zip(incoming, received, strict=True):
            if what.outcome == "forgotten":
                self._reader.forget(message.conversation)
            if what.reply is not None or what.outcome == "waiting":
                answered.add(message.address["room"])
        for room in {str(message.address["room"]) for message in incoming} - answered:
            self._presence.end(room)

    # --- rooms ------------------------------------------------------------------------------------------------------

    def _invited(self, room: str, inviter: str) -> None:
        if room in self._entering:
            return
        why = self._invitations.declined(inviter)
        if why:
            self._calls.pop(room, None)
            if self._invitations.to_tell(inviter, why):
                log.warning("matrix: invitations are declined: %s", why)
            self._presence.aside(self._connection.leave(room))
            return
        self._calls[room] = inviter
        task = asyncio.create_task(self._enter(room, inviter))
        self._entering[room] = task
        task.add_done_callback(lambda _: self._entering.pop(room, None))

    async def _enter(self, room: str, inviter: str) -> None:
        """Comes in and greets, however often that is begun: a room that the bot is in already lets it in again."""
        for pause in (*INVITED_AGAIN, None):
            try:
                if await self._connection.join(room):
                    await self._welcome(room, inviter)
                self._calls.pop(room, None)
                return
            except MatrixAway as error:
                wait = pause and max(pause, error.seconds)
            except StoreError:
                wait = pause
            except Exception as error:
                log.error("matrix: an invitation cannot be followed: %s", place_of(error))
                self._calls.pop(room, None)
                return
            if wait is None:
                log.warning("matrix: an invitation was given up; the next start tries again")
                return
            await asyncio.sleep(wait)

    async def _welcome(self, name: str, inviter: str) -> None:
        """Says hello in a room for two, once a room. Raises StoreError."""
        room = await self._known(name)
        if room is None or not room.direct or inviter in self._bridges or name == self._reader.staff:
            return
        now = datetime.now(UTC)
        key, address = f"{name}:joined", {"room": name}
        await self._desk.receive(Incoming(NAME, key, inviter, address, Arrived(), now, self._language))

    async def _known(self, room: str) -> Room | None:
        """A room just entered, once it is known who is in it."""
        loop = asyncio.get_running_loop()
        end = loop.time() + KNOWN_WITHIN
        while (known := self._connection.room(room)) is None and loop.time() < end:
            await asyncio.sleep(0.2)
        return known

    def _leave_the_empty(self) -> None:
        alone = {room for room in self._connection.rooms() if self._connection.members(room) == 1}
        for room in alone - self._leaving:
            log.info("matrix: nobody else is left in a room; leaving it")
            self._presence.aside(self._connection.leave(room))
        self._leaving = alone
