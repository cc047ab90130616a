"""Whose a message is, under which key it counts once, and whether it has to do with anything in its conversation."""

from typing import TYPE_CHECKING

from triagebot.messages.incoming import Edited, Incoming, Reacted
from triagebot.messages.outgoing import pressed_under
from triagebot.store.history import shown, took

if TYPE_CHECKING:
    from triagebot.store import Transaction


def concerns(tx: "Transaction", conversation: str, incoming: Incoming) -> bool:
    """Whether a message has to do with anything in its conversation."""
    match incoming.content:
        case Reacted(number, of):
            return pressed_under(shown(tx, conversation, of), number) is not None
        case Edited(_, of, if_taken=True):
            return took(tx, incoming.channel, tx.cipher.lookup_hash("key", incoming.channel, of), conversation)
        case _:
            return True


def person_of(incoming: Incoming) -> str:
    """Who wrote, as they are looked up."""
    return f"{incoming.channel}:{incoming.conversation}"


def key_of(incoming: Incoming, tx: "Transaction") -> str:
    """The hash by which a message counts once."""
    return tx.cipher.lookup_hash("key", incoming.channel, incoming.key)
