"""Where in the staff's room a case lies: a topic of its own, or else behind its first message.

Rules of this file:
- what begins a thread makes a topic, called as it says; where a group has none, or the bot may not make any, all that
  comes behind its first message answers that;
- a topic that was closed is opened again when something is to be said there, and one that was deleted is made anew;
- that a topic stays open when nothing comes behind it harms nothing.
"""

import logging
from collections.abc import Awaitable, Mapping
from typing import Any, Protocol

from telegram.error import BadRequest, TelegramError

from triagebot.channels.telegram.client import TOPIC_CLOSED, says, told
from triagebot.channels.telegram.limits import MOST_TOPIC
from triagebot.channels.telegram.profile import cut
from triagebot.messages import Outgoing

log = logging.getLogger(__name__)

Address = Mapping[str, Any]


class Call(Protocol):
    """One request about a chat that sends no message. Raises TelegramError."""

    def __call__(self, address: Address, method: str, *, new: bool, **given: Any) -> Awaitable[Any]: ...


class Threads:
    """Used in one event loop only."""

    def __init__(self, call: Call) -> None:
        self._call = call
        #: Topics that were made for messages of which the rest has to wait.
        self._made: dict[int, Address] = {}

    async def of(self, message: Outgoing) -> Address:
        """Where a message goes. Raises TelegramError."""
        if "opens" not in message.address:
            return message.address
        if message.id not in self._made:
            self._made[message.id] = await self._topic(message.address["chat"], str(message.address["opens"]))
        return self._made[message.id]

    async def again(self, message: Outgoing, address: Address, error: BadRequest) -> Address:
        """Where a message goes that could not be written in its topic. Raises TelegramError."""
        if says(error, TOPIC_CLOSED):
            await self._call(address, "reopenForumTopic", new=False, message_thread_id=address["thread"])
            return address
        self._made[message.id] = await self._topic(address["chat"], str(address["name"]))
        return self._made[message.id]

    async def sent(self, message: Outgoing, address: Address, first: int) -> dict[str, Any]:
        """What the receipt of a message says of its thread; `first` is its number on the platform."""
        self._made.pop(message.id, None)
        if message.closes and address.get("thread"):
            await self._close(address)
        if address is message.address:
            return {}
        if address.get("thread"):
            return {"address": dict(address), "thread": f"{address['chat']}/{address['thread']}"}
        return {"address": {**address, "reply": first}}

    def given_up(self, message: Outgoing) -> None:
        self._made.pop(message.id, None)

    async def _topic(self, chat: int, name: str) -> Address:
        address = {"chat": chat, "name": name}
        try:
            made = await self._call(address, "createForumTopic", new=False, name=cut(name, MOST_TOPIC))
        except BadRequest as error:
            log.info(
                "telegram: the staff's room has no topic for a case (%s); there, answers hold it together", told(error)
            )
            return address
        return {**address, "thread": int(made["message_thread_id"])}

    async def _close(self, address: Address) -> None:
        try:
            await self._call(address, "closeForumTopic", new=False, message_thread_id=address["thread"])
        except TelegramError as error:
            log.info("telegram: a topic of the staff's room stays open (%s)", told(error))
