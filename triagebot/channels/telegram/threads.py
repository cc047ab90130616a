"""The thread of a case in the staff's room: a topic of its own, or else the replies to its first message.

Rules of this file:
- the message that begins a thread makes a topic with the name that it gives; where a group has no topics, or the bot
  may not make any, everything later replies to the first message;
- the bot reopens a closed topic when it has something to say there, and makes a deleted one anew;
- a topic that cannot be closed at the end stays open, which does no harm.
"""

import logging
from collections.abc import Awaitable, Mapping
from typing import Any, Protocol

from telegram.error import BadRequest, TelegramError

from triagebot.channels.telegram.bot_api import TOPIC_CLOSED, redacted, says
from triagebot.channels.telegram.limits import MOST_TOPIC, cut
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
        #: Topics made for messages that are not wholly sent yet, by the message's id.
        self._made: dict[int, Address] = {}

    async def of(self, message: Outgoing) -> Address:
        """Where a message goes that begins a thread. Raises TelegramError."""
        if message.id not in self._made:
            self._made[message.id] = await self._topic(message.address["chat"], str(message.address["opens"]))
        return self._made[message.id]

    async def again(self, message: Outgoing, address: Address, error: BadRequest) -> Address:
        """Where a message goes whose topic is closed or lost. Raises TelegramError."""
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
                "telegram: the staff's room has no topic for a case (%s); there, replies hold it together",
                redacted(error),
            )
            return address
        return {**address, "thread": int(made["message_thread_id"])}

    async def _close(self, address: Address) -> None:
        try:
            await self._call(address, "closeForumTopic", new=False, message_thread_id=address["thread"])
        except TelegramError as error:
            log.info("telegram: a topic of the staff's room stays open (%s)", redacted(error))
