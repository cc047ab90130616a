"""What a message brings along besides its words: the code of an invitation, a card, or the case that it answers."""

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from triagebot.cases.cards import card_behind
from triagebot.counter.case_commands import at_the_counter
from triagebot.counter.work import Attended, Work, answer, named_case
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


def pointed_at(work: Work, text: str) -> Attended | None:
    """The case whose card's address, or whose code and nothing else, a text is."""
    if (behind := card_named(text)) is not None:
        found = card_behind(work.tx, behind, work.now)
        stored = work.tx.case(found[0]) if found is not None else None
        told = at_the_counter(work, stored.code) if stored is not None else None
        return told or answer(work.texts("staff-card-over"))
    if (alone := named_case(work.tx, text)) is not None and not alone[1]:
        return at_the_counter(work, alone[0].code)
    return None
