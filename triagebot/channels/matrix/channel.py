"""The channel as the delivery sees it, and the loop of its syncs.

Rules of this file:
- The place of a sync is kept in the transaction after that of its messages; only then does the next sync begin, and
  are messages marked as read.
- Whatever goes wrong in a sync is logged in one line, and tried again, longer and longer apart.
- The bot joins by `invites`, greets once in a room for two, and leaves a room where nobody else is left. An invitation
  is kept with the sync that brought it until the bot has joined and the greeting is on the disk.
"""

import asyncio
import json
import logging
import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from triagebot.channels.matrix import layout
from triagebot.channels.matrix.http import MatrixAway, MatrixRefused
from triagebot.channels.matrix.invites import Invitations
from triagebot.channels.matrix.layout import Part
from triagebot.channels.matrix.presence import Presence
from triagebot.channels.matrix.reading import NAME, Reader
from triagebot.channels.matrix.rooms import SyncResult
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.channels.matrix.sending import MESSAGE, Sender
from triagebot.channels.polling import Failures, Lifetime
from triagebot.conversation import Guide
from triagebot.delivery import Delivery, Received, place_of
from triagebot.errors import StoreError
from triagebot.messages import Arrived, Gone, Incoming, Outgoing, Receipt, Transient, Undelivered

if TYPE_CHECKING:
    from triagebot.channels.matrix.connection import Connection

log = logging.getLogger(__name__)

#: Seconds before a refused login is tried again, and before a join that failed is.
REFUSED_AGAIN, JOIN_AGAIN = 300.0, (1.0, 5.0, 30.0, 120.0, 600.0)
#: Seconds that a message waits for the connection, before it is put back.
OPEN_WITHIN = 30.0
#: Seconds for which the places of syncs that brought nothing are not kept, and until a room just joined is known.
KEPT_EVERY, KNOWN_WITHIN = 60.0, 30.0


class Matrix:
    """One account. `open` it, have the delivery `serve` it, then `run` it until `stop`; `close` it at the end.
    `staff_room` is the id or the alias of the staff's room, "" for none."""

    name = NAME
    edits = answers_first = albums = True

    def __init__(
        self,
        guide: Guide,
        delivery: Delivery,
        connection: "Connection",
        language: str = "en",
        allow: tuple[str, ...] = (),
        bridges: Mapping[str, re.Pattern[str]] | None = None,
        staff_room: str = "",
    ) -> None:
        self._staff_room = staff_room
        self._guide = guide
        self._delivery = delivery
        self._connection = connection
        self._language = language if language in guide.spoken else guide.shop.language
        self._allow = allow
        self._bridges = bridges or {}
        self._sender = Sender(guide, delivery, connection)
        self._presence = Presence(connection)
        self._reader = Reader("", "", self._language, tuple(guide.spoken), self._bridges)
        self._invitations = Invitations("", allow)
        self._joining: dict[str, asyncio.Task[None]] = {}
        #: Rooms where the bot may not have greeted yet, and who invited it.
        self._invited: dict[str, str] = {}
        self._leaving: set[str] = set()
        self._opened, self._lifetime, self._failures = asyncio.Event(), Lifetime(), Failures(NAME, log)
        #: What is on the disk: where the next sync begins, and what the reader has to know.
        self._place: str | None = None
        self._kept = "{}"
        self._kept_at = -math.inf

    # --- for the delivery -------------------------------------------------------------------------------------------

    async def deliver(self, message: Outgoing) -> Receipt:
        await self._connected()
        room = str(message.address["room"])
        if room.startswith("#"):
            if not await self._find_staff_room():
                raise Gone("the homeserver knows no room by this alias")
            room = self._reader.staff
            message = replace(message, address={**message.address, "room": room})
        try:
            return await self._sender.deliver(message)
        finally:
            if message.kind != "edit":
                self._presence.end(room)

    async def fetch(self, place: Mapping[str, Any], most: int) -> bytes:
        await self._connected()
        return await self._connection.fetch(place, most)

    def harmless_to_repeat(self, kind: str) -> bool:
        """The server knows a message that it took by its transaction id."""
        return True

    @property
    def reached(self) -> float | None:
        """Seconds since the homeserver last answered a sync; None if it never has."""
        return self._failures.reached

    async def _connected(self) -> None:
        try:
            await asyncio.wait_for(self._opened.wait(), OPEN_WITHIN)
        except TimeoutError:
            raise Transient("there is no connection to the homeserver") from None

    # --- opening and closing ----------------------------------------------------------------------------------------

    async def open(self) -> None:
        """Reads how far it had come."""
        self._kept = await self._delivery.place(NAME) or "{}"
        kept = json.loads(self._kept)
        self._place = kept.get("look")  # the name of older versions, as `calls` below
        self._reader.restore(kept.get("reader", {}))
        self._invited = dict(kept.get("calls", {}))

    def stop(self) -> None:
        """Ends `run` once the sync in hand is committed."""
        self._lifetime.end()

    async def close(self) -> None:
        joining = list(self._joining.values())
        for task in joining:
            task.cancel()
        await asyncio.gather(*joining, return_exceptions=True)
        await self._sender.close()
        await self._presence.close()
        await self._connection.close()

    async def run(self) -> None:
        """Syncs until `stop`. Whatever goes wrong is logged once, and tried again."""
        failures = self._failures
        while not self._lifetime.ended():
            try:
                if not self._opened.is_set():
                    await self._lifetime.wait_for(self._connection.open())
                    await self._find_staff_room()
                    self._is_open()
                await self._take(await self._lifetime.wait_for(self._connection.sync(self._place)))
            except asyncio.CancelledError:
                if not self._lifetime.ended():
                    raise
            except MatrixRefused as error:
                self._opened.clear()
                await self._lifetime.pause(failures.next(str(error).removeprefix("matrix: "), REFUSED_AGAIN))
            except MatrixAway as error:
                await self._lifetime.pause(failures.next(f"no answer from the homeserver ({error})", error.seconds))
            except StoreError as error:
                await self._lifetime.pause(failures.next(f"messages cannot be kept, so none are fetched ({error})"))
            except Exception as error:
                await self._lifetime.pause(failures.next(f"a fault of our own ({place_of(error)})"))
            else:
                failures.over()

    async def _find_staff_room(self) -> bool:
        """Whether the staff's room is known, by its id or now by its alias. Raises MatrixAway."""
        if self._staff_room and not self._reader.staff:
            aliased = self._staff_room.startswith("#")
            self._reader.staff = await self._connection.named(self._staff_room) if aliased else self._staff_room
            if not self._reader.staff:
                log.error("matrix: the homeserver knows no room %s, which is to be the staff's", self._staff_room)
        return bool(self._reader.staff)

    def _is_open(self) -> None:
        user = self._connection.user_id
        self._reader.user, self._reader.name = user, self._connection.name
        self._invitations = Invitations(user, self._allow)
        log.info("matrix: this is %s", user)
        self._opened.set()
        for room, inviter in list(self._invited.items()):
            self._accept(room, inviter)

    # --- taking in --------------------------------------------------------------------------------------------------

    async def _take(self, result: SyncResult) -> None:
        """Takes in what a sync brought; when this returns, all of it is on the disk. Raises StoreError."""
        read = [(seen, self._safely(seen)) for seen in result.seen]
        incoming = [each for _, found in read for each in found]
        for each in incoming:
            self._presence.begin(str(each.address["room"]))
        try:
            received = await self._keep(result, incoming)
        except BaseException:
            self._reader.restore(json.loads(self._kept).get("reader", {}))
            raise
        self._place = result.place
        if result.powers:
            self._delivery.may_speak(NAME)
        self._after(incoming, received)
        for seen in result.seen:
            if seen.kind == "undecryptable":
                self._presence.aside(self._connection.ask_for_key(seen))
        for room, seen in {seen.room.id: seen for seen, found in read if found}.items():
            self._presence.read(room, seen.id)
        for invite in result.invites:
            self._accept(invite.room, invite.inviter)
        self._leave_the_empty()
        if any(what.outcome == "forgotten" for what in received):
            await self._put(result, ())  # nor is it kept where they wrote

    def _safely(self, seen: Seen) -> tuple[Incoming, ...]:
        """An event that we fail on would come again for ever, and hold up all that follow it."""
        try:
            return self._reader.read(seen)
        except Exception as error:
            log.error("matrix: a message cannot be read, and is passed over: %s", place_of(error))
            return ()

    async def _keep(self, result: SyncResult, incoming: Sequence[Incoming]) -> list[Received]:
        """The place of a sync that brought nothing need not be kept each time: it would bring nothing again."""
        now = asyncio.get_running_loop().time()
        quiet = not (result.seen or result.invites or result.gone or result.moved)
        if quiet and (result.place == self._place or now - self._kept_at < KEPT_EVERY):
            return []
        return await self._put(result, incoming)

    async def _put(self, result: SyncResult, incoming: Sequence[Incoming]) -> list[Received]:
        now = asyncio.get_running_loop().time()
        invited = self._invited | {invite.room: invite.inviter for invite in result.invites}
        place = json.dumps({"look": result.place, "reader": self._reader.kept(), "calls": invited})
        received = await self._delivery.receive_all(incoming, NAME, place)
        self._kept, self._kept_at = place, now
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

    def _accept(self, room: str, inviter: str) -> None:
        if room in self._joining:
            return
        declined = self._invitations.declined(inviter)
        if declined is not None:
            self._invited.pop(room, None)
            if self._invitations.to_log(inviter, declined.why):
                log.warning("matrix: invitations are declined: %s", declined.why)
            self._presence.aside(self._decline(room, inviter, declined.told))
            return
        self._invited[room] = inviter
        task = asyncio.create_task(self._join(room, inviter))
        self._joining[room] = task
        task.add_done_callback(lambda _: self._joining.pop(room, None))

    async def _decline(self, room: str, inviter: str, told: str) -> None:
        """Clients show the reason in the room that the bot does not come into. Who talks with it alone hears it there,
        too."""
        texts = self._guide.language(self._language).texts
        words = texts(told, shop=self._guide.shop.name)
        await self._connection.leave(room, words)
        alone = self._connection.room_with(inviter)
        if alone and self._invitations.to_tell(inviter):
            content = layout.message(Part(words), {"room": alone}, notice=True)
            with suppress(Undelivered):
                await self._connection.send(alone, MESSAGE, content, f"tb-{self._delivery.own}-declined-{room}")

    async def _join(self, room: str, inviter: str) -> None:
        """Joins and greets, however often that is begun: joining a room that the bot is in already succeeds."""
        for pause in (*JOIN_AGAIN, None):
            try:
                if await self._connection.join(room):
                    await self._welcome(room, inviter)
                self._invited.pop(room, None)
                return
            except MatrixAway as error:
                wait = pause and max(pause, error.seconds)
            except StoreError:
                wait = pause
            except Exception as error:
                log.error("matrix: an invitation cannot be accepted: %s", place_of(error))
                self._invited.pop(room, None)
                return
            if wait is None:
                log.warning("matrix: joining a room is given up; the next start tries again")
                return
            await asyncio.sleep(wait)

    async def _welcome(self, name: str, inviter: str) -> None:
        """Says hello in a room for two, once a room. Raises StoreError."""
        room = await self._known(name)
        if room is None or not room.direct or inviter in self._bridges or name == self._reader.staff:
            return
        self._reader.met(room, inviter)
        now = datetime.now(UTC)
        key, address = f"{name}:joined", {"room": name}
        await self._delivery.receive(Incoming(NAME, key, inviter, address, Arrived(), now, self._language))

    async def _known(self, room: str) -> Room | None:
        """A room just joined, once it is known who is in it."""
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
