"""The channel as the delivery sees it, and the ways in which updates come to it: polling and webhook.

Rules of this file:
- an update is confirmed to the platform only when the delivery has committed it: polling asks for later ones after
  that, a webhook answers 200 after that;
- presses are answered before that, since it does no harm to do it twice. The answer only stops the spinner on the
  button, so it is tried a few times and then given up;
- a number once asked for is forgotten when the platform has nothing more: after a week of silence it counts anew.
"""

import asyncio
import json
import logging
from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Any

from telegram.error import BadRequest, Conflict, Forbidden, InvalidToken, TelegramError
from telegram.error import RetryAfter as TelegramRetryAfter

from triagebot.channels.polling import Failures, Lifetime
from triagebot.channels.telegram.bot_api import TOO_OLD, Client, redacted, says, seconds
from triagebot.channels.telegram.groups import Groups
from triagebot.channels.telegram.limits import KINDS, MOST_NOTICE, WEBHOOK_CONNECTIONS, cut
from triagebot.channels.telegram.profile import introduce
from triagebot.channels.telegram.reading import NAME, Press, Raw, Read, Reader, digests
from triagebot.channels.telegram.sending import Sender
from triagebot.conversation import Guide
from triagebot.delivery import Delivery, place_of
from triagebot.errors import StoreError
from triagebot.messages import Outgoing, Receipt

log = logging.getLogger(__name__)

#: Seconds before the answer to a press is tried again.
PAUSES = (1.0, 3.0, 10.0, 30.0, 60.0, 120.0)
#: Seconds between two questions whether the platform is there, where it brings updates by itself.
ASK_EVERY = 60.0


class Telegram:
    """One bot. `open` it, have the delivery `serve` it, then `poll` or give it what a webhook is sent (`take`).
    `room` is the number of the staff's room, 0 for none."""

    name = NAME
    edits = answers_first = albums = True

    def __init__(self, guide: Guide, delivery: Delivery, client: Client, language: str = "en", room: int = 0) -> None:
        self.client = client
        self._guide = guide
        self._delivery = delivery
        self._groups = Groups(room, self._keep_soon)
        self._language = language
        self._sender = Sender(guide, delivery, client, self._groups)
        self._keeping: asyncio.Task[None] | None = None
        self._answers: set[asyncio.Task[None]] = set()
        self._reader: Reader | None = None
        self._asking = asyncio.Lock()
        self._presenting: asyncio.Task[None] | None = None
        self._lifetime, self._failures = Lifetime(), Failures(NAME, log)
        self._next = 0

    # --- for the delivery -------------------------------------------------------------------------------------------

    async def deliver(self, message: Outgoing) -> Receipt:
        return await self._sender.deliver(message)

    async def fetch(self, place: Mapping[str, Any], most: int) -> bytes:
        return await self.client.photo(place["file"], most)

    def deep_link(self, code: str) -> str:
        """A link that opens a chat with the bot, where pressing Start brings the code."""
        name = self._reader.username if self._reader is not None else ""
        return f"https://t.me/{name}?start={code}" if name else ""

    def harmless_to_repeat(self, kind: str) -> bool:
        """A question asked twice is answered once, since the other one is stale then; the same edit twice is one."""
        return True

    @property
    def reached(self) -> float | None:
        """Seconds since the platform last answered; None if it never has."""
        return self._failures.reached

    # --- opening and closing ----------------------------------------------------------------------------------------

    async def open(self) -> None:
        """Reads which update comes next, and which number each group had first."""
        kept = json.loads(await self._delivery.place(NAME) or "{}")
        self._next = int(kept.get("next", 0))
        self._groups.read(kept.get("first", {}))

    async def close(self, grace: float = 5.0) -> None:
        """Gives the answers to presses, and the changes, that are under way so many seconds."""
        if self._presenting is not None:
            self._presenting.cancel()
            await asyncio.gather(self._presenting, return_exceptions=True)
        if self._answers:
            _, late = await asyncio.wait(self._answers, timeout=grace)
            for task in late:
                task.cancel()
            await asyncio.gather(*late, return_exceptions=True)
        await self._sender.changes.close(grace)
        await self.client.hang_up()

    async def idle(self) -> None:
        """Until no message is being changed any more."""
        await self._sender.changes.idle()

    def stop(self) -> None:
        """Ends polling once the batch in hand is committed."""
        self._lifetime.end()

    async def reader(self) -> Reader:
        """Made once the platform has told us who we are. Raises TelegramError."""
        reader = self._reader
        if reader is None:
            async with self._asking:  # a webhook brings many updates at once
                reader = self._reader = self._reader or await self._introduced()
        return reader

    async def _introduced(self) -> Reader:
        me = await self.client.get_me()
        log.info("telegram: this is @%s", me.username)
        spoken = tuple(self._guide.spoken)
        choices = digests(c for q in self._guide.topic.questions.values() for c in (*q.choices, "unsure"))
        language = self._language if self._language in spoken else self._guide.shop.language
        return Reader(me.id, me.username or "", language, spoken, choices, self._groups)

    # --- taking in --------------------------------------------------------------------------------------------------

    async def take(self, updates: Sequence[Raw], following: int) -> None:
        """Takes updates in; when it returns, all of them are on the disk. Raises StoreError, TelegramError."""
        reader, found = await self.reader(), list[Read]()
        for update in updates:
            read = reader.safely(update)
            found.append(read)
            if read.moved is not None:
                self._sender.moved(*read.moved)
            if read.press is not None:
                task = asyncio.create_task(self._answer(read.press))
                self._answers.add(task)
                task.add_done_callback(self._answers.discard)
        incoming = [read.incoming for read in found if read.incoming is not None]
        self._next = max(self._next, following)
        await self._delivery.receive_all(incoming, NAME, self._place())

    def _place(self) -> str:
        return json.dumps({"next": self._next, "first": self._groups.kept})

    def _keep_soon(self) -> None:
        """The sender may see that a group has another number before the platform tells us."""
        self._keeping = asyncio.create_task(self._keep())

    async def _keep(self) -> None:
        try:
            await self._delivery.receive_all((), NAME, self._place())
        except StoreError as error:
            log.warning("telegram: the new number of a group is not kept yet (%s)", redacted(error))

    async def _answer(self, press: Press) -> None:
        """Stops the spinner on the button, and shows a notice about the press if there is one."""
        texts = self._guide.language(press.language).texts
        notice = cut(texts(press.notice), MOST_NOTICE) if press.notice else None
        for pause in (*PAUSES, None):
            try:
                await self.client.answer_callback_query(press.id, notice)
            except TelegramRetryAfter as error:
                wait = seconds(error)
            except Forbidden:
                return
            except BadRequest as error:
                if not says(error, TOO_OLD):
                    log.warning("telegram: the answer to a press was refused (%s)", redacted(error))
                return
            except TelegramError as error:
                if pause is None:
                    log.warning("telegram: the answer to a press was given up (%s)", redacted(error))
                    return
                wait = pause
            else:
                return
            await asyncio.sleep(wait)

    # --- polling ----------------------------------------------------------------------------------------------------

    async def poll(self) -> None:
        """Asks for updates until `stop`. Whatever goes wrong is logged once, and tried again."""
        offset, failures = 0, self._failures
        await self._retry_until_done(self.client.delete_webhook)
        self._presenting = asyncio.create_task(self._present())
        while not self._lifetime.ended():
            try:
                updates, following = await self._lifetime.wait_for(self.client.updates(offset))
                if updates:
                    await self.take(updates, following)
                offset = following
            except asyncio.CancelledError:
                if not self._lifetime.ended():
                    raise
                return
            except Exception as error:
                await self._lifetime.pause(_counted(failures, error))
            else:
                failures.over()

    async def hook(self, address: str, secret: str) -> None:
        """Has the platform send updates to an address, and presents the bot."""
        await self._retry_until_done(
            lambda: self.client.set_webhook(
                address, secret_token=secret, allowed_updates=KINDS, max_connections=WEBHOOK_CONNECTIONS
            )
        )
        self._presenting = asyncio.create_task(self._present())

    async def stay_hooked(self, address: str, secret: str) -> None:
        """Does so, and then asks now and then whether the platform is there, until `stop`: who only waits to be brought
        something cannot tell silence from an outage."""
        await self.hook(address, secret)
        while not self._lifetime.ended():
            await self._lifetime.pause(ASK_EVERY)
            await self._retry_until_done(self.client.get_me)

    async def _present(self) -> None:
        """Sets menus and descriptions in the background; the next start tries again what fails."""
        try:
            await introduce(self.client, self._guide)
        except TelegramError as error:
            log.warning(
                "telegram: menus and descriptions are not set (%s); the next start tries again", redacted(error)
            )

    async def _retry_until_done(self, call: Callable[[], Awaitable[object]]) -> None:
        """Makes a request until it succeeds or the channel is stopped."""
        while not self._lifetime.ended():
            try:
                await self._lifetime.wait_for(call())
            except asyncio.CancelledError:
                if not self._lifetime.ended():
                    raise
            except TelegramError as error:
                await self._lifetime.pause(_counted(self._failures, error))
            else:
                self._failures.over()
                return


def _counted(failures: Failures, error: Exception) -> float:
    """Counts a failure; gives the seconds until the next attempt."""
    return failures.next(_in_words(error), seconds(error) if isinstance(error, TelegramRetryAfter) else 0.0)


def _in_words(error: Exception) -> str:
    if isinstance(error, Conflict):
        return "somebody else fetches this bot's messages (another triagebot with the same token?); stop that one"
    if isinstance(error, InvalidToken):
        return "the token is not accepted; make sure that it is the present one"
    if isinstance(error, StoreError):
        return f"messages cannot be kept, so none are fetched ({redacted(error)})"
    if not isinstance(error, TelegramError):
        return f"a fault of our own ({place_of(error)})"
    if isinstance(error, TelegramRetryAfter):
        return "the platform wants a pause"
    return f"no answer from the platform ({redacted(error)})"
