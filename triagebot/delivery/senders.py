"""Who sent a message, as the caps count it, and the one line in the log that a flood is."""

import logging

from triagebot.delivery.counts import messages, short
from triagebot.messages import Incoming
from triagebot.rates import Floods
from triagebot.store.encryption import Cipher
from triagebot.turns.loops import shared_place

log = logging.getLogger(__name__)


def sender(incoming: Incoming) -> tuple[str, str]:
    """Who sent a message, and the room where several talk ("" for none)."""
    if incoming.room is not None:
        return f"{incoming.channel}:{incoming.room.who}", f"{incoming.channel}:staff"
    return incoming.person, "" if incoming.private else shared_place(incoming.person)


def log_floods(floods: Floods, cipher: Cipher, *, closing: bool = False) -> None:
    for flood in floods.to_tell(closing=closing):
        who = short(cipher.lookup_hash("person", flood.who))
        log.warning("flood: %s from %s in %d s passed over", messages(flood.count), who, flood.last - flood.began)
