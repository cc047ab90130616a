"""Who sent a message, as the caps count it; what is said of more than is heard, and the one line in the log."""

import logging
from typing import TYPE_CHECKING

from triagebot.cases.change_channel import ToOthers
from triagebot.conversation.reply import told
from triagebot.delivery.counts import messages, short
from triagebot.delivery.inbox import Inbox
from triagebot.messages import Incoming
from triagebot.rates import Floods
from triagebot.store.encryption import Cipher
from triagebot.store.post import Post
from triagebot.turns.loops import shared_place

if TYPE_CHECKING:
    from triagebot.store import Transaction

log = logging.getLogger(__name__)


def sender(incoming: Incoming) -> tuple[str, str]:
    """Who sent a message, and the room where several talk ("" for none)."""
    if incoming.room is not None:
        return f"{incoming.channel}:{incoming.room.who}", f"{incoming.channel}:staff"
    return incoming.person, "" if incoming.private else shared_place(incoming.person)


def say_too_many(inbox: Inbox, incoming: Incoming, tx: "Transaction") -> None:
    """Tells somebody, where they are reached already, that the bot does not read on for a while."""
    who = tx.lookup_hash(incoming.person if incoming.room is None else f"{incoming.channel}:{incoming.room.who}")
    texts = inbox.turns.guide.language(incoming.language).texts
    reply = told(texts("too-many-messages"), about="too-many-messages")
    inbox.tell_others(tx, Post(tx), (ToOthers(who, None, reply, aside=True, language=incoming.language),))


def log_floods(floods: Floods, cipher: Cipher, *, closing: bool = False) -> None:
    for flood in floods.to_tell(closing=closing):
        who = short(cipher.lookup_hash("person", flood.who))
        log.warning("flood: %s from %s in %d s passed over", messages(flood.count), who, flood.last - flood.began)
