"""The channel as the delivery sees it, and the ways in which updates come to it: polling and webhook.

Rules of this file:
- an update is confirmed to the platform only when the delivery has committed it: polling asks for later ones after
  that, a webhook answers 200 after that;
- presses are answered before that, since it harms nothing to do it twice;
- a number once asked for is forgotten when the platform has nothing more: after a week of silence it counts anew.
"""

import asyncio
import json
import logging
from collections.abc import Mapping, Sequence
from typing import Any

from telegram.error import Conflict, InvalidToken, TelegramError
from telegram.error import RetryAfter as Later

from triagebot.channels.failures import Failures
from triagebot.channels.shift import Shift
from triagebot.channels.telegram.answering import Answers
from triagebot.channels.telegram.buttons import digests
from triagebot.channels.telegram.client import Client, seconds, told
from triagebot.channels.telegram.fetching import fetch
from triagebot.channels.telegram.limits import KINDS, WEBHOOK_CONNECTIONS
from triagebot.channels.telegram.pacing import Pace
from triagebot.channels.telegram.profile import introduce
from triagebot.channels.telegram.reading import NAME, Reader, Written
from triagebot.channels.telegram.sending import Post
from triagebot.conversation import Guide
from triagebot.delivery import Delivery, place_of
from triagebot.errors import StoreError
from triagebot.messages import Outgoing, Receipt

log = logging.getLogger(__name__)


class Telegram:
    """One bot. `open` it, have the delivery `serve` it, then `poll` or give it what a webhook is sent (`take`).
    `room` is the number of the staff's room, 0 for none."""

    name = NAME
    edits = True

    def __init__(self, guide: Guide, delivery: Delivery, client: Client, language: str = "en", room: int = 0) -> None:
        self.client = client
        self._room = room
        self._guide = guide
        self._desk = delivery
        self._first: dict[int, int] = {}
        self._language = language
        self._post = Post(guide, delivery, client, Pace(), self._moved)
        self._answers = Answers(guide, client)
        self._reader: Reader | None = None
        self._presenting: asyncio.Task[None] | None = None
        self._shift = Shift()
        self._place = 0

    # --- for the delivery -------------------------------------------------------------------------------------------

    async def deliver(self, message: Outgoing) -> Receipt:
        return await self._post.deliver(message)

    async def fetch(self, place: Mapping[str, Any], most: int) -> bytes:
        return await fetch(self.client, place, most)

    def deep_link(self, code: str) -> str:
        """A link that opens a chat with the bot, where pressing Start brings the code."""
        name = self._reader.username if self._reader is not None else ""
        return f"https://t.me/{name}?start={code}" if name else ""

    def harmless_to_repeat(self, kind: str) -> bool:
        """A question asked twice is answered once: the other one is stale then. A change made twice is made once."""
        return True

    # --- opening and closing ----------------------------------------------------------------------------------------

    async def open(self) -> None:
        """Reads how far we had come."""
        kept = json.loads(await self._desk.place(NAME) or "{}")
        self._place = int(kept.get("next", 0))
        self._first = {int(now): int(first) for now, first in kept.get("first", {}).items()}

    async def close(self, grace: float = 5.0) -> None:
        if self._presenting is not None:
            self._presenting.cancel()
            await asyncio.gather(self._presenting, return_exceptions=True)
        await self._answers.close(grace)
        await self.client.hang_up()

    def stop(self) -> None:
        """Ends polling once the batch in hand is committed."""
        self._shift.end()

    async def greet(self) -> Reader:
        """Learns from the platform who we are. Raises TelegramError."""
        if self._reader is None:
            me = await self.client.get_me()
            log.info("telegram: this is @%s", me.username)
            spoken = tuple(self._guide.spoken)
            choices = digests(c for q in self._guide.topic.questions.values() for c in (*q.choices, "unsure"))
            language = self._language if self._language in spoken else self._guide.shop.language
            self._reader = Reader(me.id, me.username or "", language, spoken, choices, self._first, self._room)
        return self._reader

    # --- taking in --------------------------------------------------------------------------------------------------

    async def take(self, updates: Sequence[Written], following: int) -> None:
        """Takes updates in; when it returns, all of them are on the disk. Raises StoreError, TelegramError."""
        reader = await self.greet()
        found = reader.read_all(updates)
        for read in found:
            if read.press is not None:
                self._answers.press(read.press)
        incoming = [read.incoming for read in found if read.incoming is not None]
        self._place = max(self._place, following)
        await self._desk.receive_all(incoming, NAME, self._kept())

    def _moved(self, old: int, new: int) -> None:
        """Seen by the sender, which may be before the platform tells."""
        self._first.setdefault(new, self._first.get(old, old))

    def _kept(self) -> str:
        return json.dumps({"next": self._place, "first": {str(now): first for now, first in self._first.items()}})

    # --- polling ----------------------------------------------------------------------------------------------------

    async def poll(self) -> None:
        """Asks for updates until `stop`. Whatever goes wrong is said once, and tried again."""
        offset, failures = 0, Failures(NAME, log)
        await self._insist(self.client.delete_webhook, failures)
        self._presenting = asyncio.create_task(self._present())
        while not self._shift.ended():
            try:
                updates, following = await self._shift.wait_for(self.client.updates(offset))
                if updates:
                    await self.take(updates, following)
                offset = following
            except asyncio.CancelledError:
                if not self._shift.ended():
                    raise
                return
            except Exception as error:
                await self._shift.pause(_counted(failures, error))
            else:
                failures.over()

    async def hook(self, address: str, secret: str) -> None:
        """Has the platform send updates to an address, and presents the bot."""
        failures = Failures(NAME, log)
        await self._insist(
            lambda: self.client.set_webhook(
                address, secret_token=secret, allowed_updates=KINDS, max_connections=WEBHOOK_CONNECTIONS
            ),
            failures,
        )
        self._presenting = asyncio.create_task(self._present())

    async def _present(self) -> None:
        """Sets menus and descriptions; nobody waits for them, and the next start tries again what fails."""
        try:
            await introduce(self.client, self._guide)
        except TelegramError as error:
            log.warning("telegram: menus and descriptions are not set (%s); the next start tries again", told(error))

    async def _insist(self, call: Any, failures: Failures) -> None:
        while not self._shift.ended():
            try:
                await self._shift.wait_for(call())
            except asyncio.CancelledError:
                if not self._shift.ended():
                    raise
            except TelegramError as error:
                await self._shift.pause(_counted(failures, error))
            else:
                failures.over()
                return


def _counted(failures: Failures, error: Exception) -> float:
    """Seconds until the next attempt."""
    return failures.next(_in_words(error), seconds(error) if isinstance(error, Later) else 0.0)


def _in_words(error: Exception) -> str:
    if isinstance(error, Conflict):
        return "somebody else fetches this bot's messages (another triagebot with the same token?); stop that one"
    if isinstance(error, InvalidToken):
        return "the token is not accepted; make sure that it is the present one"
    if isinstance(error, StoreError):
        return f"messages cannot be kept, so none are fetched ({told(error)})"
    if not isinstance(error, TelegramError):
        return f"a fault of our own ({place_of(error)})"
    if isinstance(error, Later):
        return "the platform wants a pause"
    return f"no answer from the platform ({told(error)})"
