"""Sends one message of the delivery into a room, or edits one that was answered.

Rules of this file:
- Every event has a transaction id made of the outbox number, so that sending it once more, even after a crash, is the
  same event again; no two events share one.
- When a part fails, the parts before it are not sent again.
- An outcome and what illustrates it are one event, with the words as its caption.
- A picture helps and is not needed: where the server refuses it, or fails again and again, the words go out without.
- A file that goes with the words comes before them.
- The first event of a new thread is its root, and all that follows is in that thread. A photo comes behind its words.
- The photos of an album come one after another behind its words, without a caption each: no stable event of Matrix
  holds several (see the README of `channels`).
- Numbers are put under a question once it is out, unless something newer goes to the same person or the server wants
  fewer events. Nobody waits for them, and nobody is told when they fail.
"""

import asyncio
import json
import logging
import mimetypes
import struct
from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Any

from triagebot.channels.matrix import layout
from triagebot.channels.matrix.layout import Part, sheet
from triagebot.channels.matrix.reading import NAME
from triagebot.channels.rendering import Gallery
from triagebot.conversation import Guide
from triagebot.conversation.blocks import Attachment
from triagebot.delivery import Delivery
from triagebot.messages import Gone, Outgoing, Receipt, Refused, RetryAfter, Transient, Withheld

if TYPE_CHECKING:
    from triagebot.channels.matrix.connection import Connection

log = logging.getLogger(__name__)

#: So often a picture may fail on the way.
PICTURE_TRIES = 2
#: Seconds before numbers are put under a message: people who have answered by then need none.
NUMBERS_AFTER = 0.2
#: Seconds without numbers under messages, once the server wanted a pause.
QUIET = 600.0

#: Of what is sent for a picture, what a change of its words names again.
SHOWN = ("filename", "info", "url", "file")
MESSAGE, REACTION = "m.room.message", "m.reaction"

_Step = Callable[[], Awaitable[str]]


class Sender:
    """For one bot, in one event loop."""

    def __init__(self, guide: Guide, delivery: Delivery, connection: "Connection") -> None:
        self._guide = guide
        self._delivery = delivery
        self._connection = connection
        self._gallery = Gallery(guide, delivery, NAME)
        #: The events of a message that went out while the rest of it has to wait.
        self._parts: dict[int, list[str]] = {}
        self._numbering: dict[str, asyncio.Task[None]] = {}
        self._quiet_until = 0.0

    async def deliver(self, message: Outgoing) -> Receipt:
        """Sends or edits; gives what a later edit needs. Raises the delivery's errors."""
        if message.kind != "edit":  # an edit comes before the numbers under what it edits
            self._cancel_numbers(message)
        try:
            if message.kind == "edit":
                if not self._is_quiet():
                    await self._edit(message)
                return message.receipt
            return await self._send(message)
        except RetryAfter as error:
            if not isinstance(error, Withheld):
                self._pause_numbers()
            if message.kind == "edit":  # what it would show can be done without; what comes next must not wait for it
                return message.receipt
            raise
        except (Gone, Refused):
            self._parts.pop(message.id, None)
            raise

    async def close(self) -> None:
        tasks = list(self._numbering.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def _tx(self, message: Outgoing, part: str) -> str:
        return f"tb-{self._delivery.own}-{message.id}-{part}"

    # --- sending ----------------------------------------------------------------------------------------------------

    async def _send(self, message: Outgoing) -> Receipt:
        texts = self._guide.language(message.language).texts
        called, notice = str(message.address.get("called", "")), message.kind == "notice"
        name = "" if called else message.reply.shows or ""
        seen = (await self._gallery.drawing(name, texts)).words if message.reply.picture is None and name else ""
        parts = sheet(message.reply, texts, called=called, seen=seen)
        steps: list[_Step] = [
            lambda file=file, place=place: self._send_file(message, file, f"file{place}")  # type: ignore[misc]
            for place, file in enumerate(message.reply.of(Attachment))
        ]
        if steps or name or message.photo is not None:
            self._encrypted(message)  # what only waits for the room must not go out without its picture
        captioned = bool(name) and len(parts) == 1
        shown: dict[str, Any] = {}
        if captioned:
            under, parts = parts[0], ()
            steps.append(lambda: self._send_captioned(message, under, notice, shown))
        elif name:
            steps.append(lambda: self._send_picture(message))
        for place, part in enumerate(parts):
            steps.append(lambda place=place, part=part: self._send_part(message, str(place), part, notice))  # type: ignore[misc]
        for place, photo in enumerate(message.photos, 1):
            tx = "photo" if place == 1 else f"photo-{place}"
            steps.append(lambda photo=photo, tx=tx: self._send_photo(message, photo, tx))  # type: ignore[misc]
        done = self._parts.setdefault(message.id, [])
        for step in steps[len(done) :]:
            done.append(await step())
        del self._parts[message.id]
        if "opens" in message.address:
            address = {"room": message.address["room"], "thread": done[0]}
            return {"event": done[-1], "others": done[:-1], "parts": len(parts), "notice": notice} | {
                "address": address,
                "thread": done[0],
            }
        event = done[-1] if parts or captioned else ""
        if event and not called:
            self._put_numbers(message, event)
        others = [each for each in done if each and each != event]
        receipt = {"event": event, "others": others, "parts": len(parts) or int(captioned), "notice": notice}
        return receipt | ({"shown": shown} if shown else {})

    async def _send_part(self, message: Outgoing, tx: str, part: Part, notice: bool) -> str:
        content = layout.message(part, self._address(message), notice=notice)
        return await self._connection.send(message.address["room"], MESSAGE, content, self._tx(message, tx))

    def _encrypted(self, message: Outgoing) -> bool:
        """Whether a file goes out encrypted: clients show none that is otherwise than its room. Raises Transient where
        the room's state is not known yet, as right after a start."""
        room = self._connection.room(message.address["room"])
        if room is None:
            raise Transient("the state of the room is not known yet")
        return room.encrypted

    def _address(self, message: Outgoing) -> Mapping[str, Any]:
        """Where a part of a message goes: into the thread that its first part began, if it did."""
        done = self._parts.get(message.id, ())
        return {**message.address, "thread": done[0]} if "opens" in message.address and done else message.address

    async def _send_file(self, message: Outgoing, file: Attachment, tx: str) -> str:
        """The event; "" where the server refuses the file: the words say where else it is."""
        media = mimetypes.guess_type(file.name)[0] or "application/octet-stream"
        data = file.content.encode()
        try:
            place = await self._connection.upload(data, media, self._encrypted(message))
            info = {"mimetype": media, "size": len(data)}
            content = layout.file(file.name, place, info, self._address(message))
            return await self._connection.send(message.address["room"], MESSAGE, content, self._tx(message, tx))
        except (Refused, Transient) as error:
            if isinstance(error, Transient) and message.attempt <= PICTURE_TRIES:
                raise
            log.warning("matrix: a file cannot be sent (%s); the words go out without it", error)
            return ""

    async def _send_photo(self, message: Outgoing, number: int, tx: str) -> str:
        """The event; "" where the photo is gone, or the server refuses it."""
        photo = await self._delivery.photo(number)
        if photo is None:
            return ""
        try:
            place = await self._connection.upload(photo, "image/jpeg", self._encrypted(message))
            info = {"mimetype": "image/jpeg", "size": len(photo)}
            content = layout.image(Part("photo.jpg"), place, info, self._address(message), "photo.jpg")
            return await self._connection.send(message.address["room"], MESSAGE, content, self._tx(message, tx))
        except (Refused, Transient) as error:
            if isinstance(error, Transient) and message.attempt <= PICTURE_TRIES:
                raise
            log.warning("matrix: a photo cannot be sent (%s); the words go out without it", error)
            return ""

    async def _send_captioned(self, message: Outgoing, words: Part, notice: bool, shown: dict[str, Any]) -> str:
        """What is said with what illustrates it, as one event, and into `shown` what a change of its words must name
        again; the words alone where the server refuses that."""
        sent = await self._send_picture(message, words, shown)
        return sent or await self._send_part(message, "0", words, notice)

    async def _send_picture(
        self, message: Outgoing, caption: Part | None = None, shown: dict[str, Any] | None = None
    ) -> str:
        """The event; "" where the server refuses it."""
        try:
            content = await self._picture(message, caption)
            sent = await self._connection.send(message.address["room"], MESSAGE, content, self._tx(message, "picture"))
            if shown is not None:
                shown |= {each: content[each] for each in SHOWN if each in content}
            return sent
        except (Refused, Transient) as error:
            if isinstance(error, Transient) and message.attempt <= PICTURE_TRIES:
                raise
            log.warning("matrix: a picture cannot be sent (%s); the words go out without it", error)
            return ""

    async def _picture(self, message: Outgoing, caption: Part | None) -> dict[str, Any]:
        texts, name = self._guide.language(message.language).texts, message.reply.shows
        assert name is not None
        encrypted = self._encrypted(message)

        async def post(given: str | bytes) -> tuple[str, str]:
            if isinstance(given, bytes):
                width, height = struct.unpack(">II", given[16:24])  # the header of a PNG
                info = {"mimetype": "image/png", "size": len(given), "w": width, "h": height}
                given = json.dumps(
                    {"place": dict(await self._connection.upload(given, "image/png", encrypted)), "info": info}
                )
            return given, given

        kept = json.loads(await self._gallery.send(name, texts, post, "sealed" if encrypted else "plain"))
        shown = Part(layout.caption(texts, (await self._gallery.drawing(name, texts)).words))
        return layout.image(caption or shown, kept["place"], kept["info"], message.address)

    # --- editing ----------------------------------------------------------------------------------------------------

    async def _edit(self, message: Outgoing) -> None:
        """Shows what was answered. A message without an answer stays as it is, and so does one behind a bridge, where
        an edit is one more message."""
        receipt = message.receipt
        if not message.answered or not receipt.get("event") or message.address.get("called"):
            return
        texts, shown = self._guide.language(message.language).texts, receipt.get("shown", {})
        parts = sheet(message.reply, texts, answered=message.answered)
        if len(parts) != receipt["parts"]:
            return  # its last part would not be what is shown there
        content = layout.change(parts[-1], receipt["event"], notice=bool(receipt["notice"]), shown=shown)
        await self._connection.send(message.address["room"], MESSAGE, content, self._tx(message, "change"))

    # --- numbers ----------------------------------------------------------------------------------------------------

    def _put_numbers(self, message: Outgoing, event: str) -> None:
        keys = layout.numbers(message.reply)
        if keys and not self._is_quiet():
            whose = _whose(message)
            task = asyncio.create_task(self._number(message, event, keys))
            self._numbering[whose] = task
            task.add_done_callback(lambda done: self._numbered(whose, done))

    async def _number(self, message: Outgoing, event: str, keys: tuple[str, ...]) -> None:
        try:
            await asyncio.sleep(NUMBERS_AFTER)
            for place, key in enumerate(keys, 1):
                tx = self._tx(message, f"number-{place}")
                await self._connection.send(message.address["room"], REACTION, layout.number(key, event), tx)
        except (Withheld, Transient, Gone, Refused):
            return
        except RetryAfter:
            self._pause_numbers()

    def _numbered(self, whose: str, task: "asyncio.Task[None]") -> None:
        if self._numbering.get(whose) is task:
            del self._numbering[whose]
        if not task.cancelled() and (error := task.exception()) is not None:
            log.error("matrix: numbers could not be put under a message (%s)", type(error).__name__)

    def _cancel_numbers(self, message: Outgoing) -> None:
        """Something newer goes to the same person: numbers under the last message would come late."""
        task = self._numbering.pop(_whose(message), None)
        if task is not None:
            task.cancel()

    def _is_quiet(self) -> bool:
        """Whether the server wanted a pause lately: then nothing goes out but what must."""
        return asyncio.get_running_loop().time() < self._quiet_until

    def _pause_numbers(self) -> None:
        self._quiet_until = asyncio.get_running_loop().time() + QUIET


def _whose(message: Outgoing) -> str:
    address = message.address
    return " ".join(str(address.get(part, "")) for part in ("room", "thread", "person", "called"))
