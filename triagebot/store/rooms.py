"""Where a case lies in a room of the staff's, once its first letter there is out.

Decided here and nowhere else: a receipt may say where the conversation is from now on (`address`), and by what it is
known there (`lies`); both are put down with the receipt.
"""

from collections.abc import Mapping
from typing import Any

from triagebot.store.cases import View
from triagebot.store.post import Post
from triagebot.store.tickets import Tickets


def settle(view: View, channel: str, conversation: str, body: Mapping[str, Any], receipt: Mapping[str, Any]) -> None:
    """Puts down what a receipt says of the place where a letter with this body went."""
    if "address" in receipt:
        Post(view).introduce(conversation, channel, receipt["address"])
    if receipt.get("lies") and "number" in body:
        Tickets(view).lies(body["number"], place_mark(view, channel, receipt["lies"]))


def place_mark(view: View, channel: str, place: str) -> str:
    """What a place in a room is looked up by."""
    return view.cipher.lookup_hash("room", channel, place)
