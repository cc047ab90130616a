"""The thread of a case in the staff's room: a topic of its own, or else the replies to its first message.

Rules of this file:
- the message that begins a thread makes a topic with the name that it gives; where a group has no topics, or the bot
  may not make any, everything later replies to the first message;
- the bot reopens a closed topic when it has something to say there, and makes a deleted one anew; the receipt says so
  (`anew`), since nothing of what stood in the old one is seen any more;
- a case keeps the topic that was made for it even where the message that began it was refused;
- where a group has got another number, its messages are counted anew: the next one begins the replies there;
- a topic that cannot be closed at the end stays open, which does no harm.
"""

import logging
from collections.abc import Awaitable, Mapping, Sequence
from typing import Any, Protocol

from telegram.error import BadRequest, TelegramError

from triagebot.channels.telegram.bot_api import TOPIC_CLOSED, redacted, says
from triagebot.channels.telegram.groups import Groups
from triagebot.channels.telegram.limits import MOST_TOPIC, cut
from triagebot.messages import Outgoing

log = logging.getLogger(__name__)

Address = Mapping[str, Any]


class Call(Protocol):
    """One request about a chat that sends no message. Raises TelegramError."""

    def __call__(self, address: Address, method: str, *, new: bool, **given: Any) -> Awaitable[Any]: ...


class Threads:
    """Used in one event loop only."""

    def __init__(self, call: Call, groups: Groups) -> None:
        self._call = call
        self._groups = groups
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
        return self._told(message, address, first)

    def given_up(self, message: Outgoing, parts: Sequence[int]) -> dict[str, Any]:
        """What there is of a thread though its message, or the rest of it behind these parts, is given up."""
        address = self._made.pop(message.id, message.address)
        return self._told(message, address, *parts[:1]) if parts or address.get("thread") else {}

    def _told(self, message: Outgoing, address: Address, first: int = 0) -> dict[str, Any]:
        now = self._groups.now(int(address["chat"]))
        if address.get("thread"):
            known = {"address": dict(address), "thread": f"{address['chat']}/{address['thread']}"}
            anew = {"anew": True} if "opens" not in message.address else {}
            return {} if address is message.address else known | anew
        begins = address is not message.address or ("name" in address and not first_reply_stands(address, now))
        return {"address": {**address, "reply": first, "group": now}} if begins else {}

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


def first_reply_stands(address: Address, chat: int) -> bool:
    """Whether the message that an address replies to is one of the group's under its present number, `chat`."""
    return bool(address.get("group", address["chat"]) == chat)
