"""What a message brings along besides its words: the code of an invitation, a card, or the case that it answers."""

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from triagebot.messages.codes import STAFF_CODE, read_secret
from triagebot.messages.message import Arrived, Content, Incoming, Said
from triagebot.store.history import shown

if TYPE_CHECKING:
    from triagebot.store import Transaction


def about_case(tx: "Transaction", lookup_hash: str, incoming: Incoming) -> str:
    """The code of the case that the answered message is about; "" where it answers none."""
    if incoming.about:
        return incoming.about
    body = shown(tx, lookup_hash, incoming.answers) if incoming.answers else None
    return str(body.get("about", "")) if body is not None else ""


def code_brought(incoming: Incoming, content: Content) -> str | None:
    """The code that somebody brings: said by themselves, or behind the link that begins a conversation."""
    if incoming.forwarded:
        return None
    match content:
        case Said(text) | Arrived(secret=text):
            return read_secret(text, STAFF_CODE)
        case _:
            return None


def card_named(text: str) -> str | None:
    """The secret of the card that an address leads to, as a square code holds it."""
    words = [word for word in text.split() if "/card/" in word]
    if len(words) != 1 or len(words[0]) > 500:
        return None
    return urlsplit(words[0].strip("<>()[].,")).path.rpartition("/card/")[2] or None
