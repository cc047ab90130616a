"""Crash safety: takes a message in, has one turn taken, hands out what comes of it.

`WaitingClient` is for those who wait for each answer (terminal, JSON lines), `Delivery` for channels that send by
themselves.
"""

from typing import TYPE_CHECKING, Any

from triagebot.delivery.waiting_client import Heard, WaitingClient

if TYPE_CHECKING:
    from triagebot.delivery.counts import Counts, place_of
    from triagebot.delivery.delivery import Delivery
    from triagebot.delivery.inbox import Received
    from triagebot.delivery.photos import Fetching, TooLarge
    from triagebot.delivery.process_lock import staffed

__all__ = [
    "Counts",
    "Delivery",
    "Fetching",
    "Heard",
    "Received",
    "TooLarge",
    "WaitingClient",
    "place_of",
    "staffed",
]

#: What needs the database library is loaded when it is first asked for.
_LATER = {
    "Counts": "counts",
    "Delivery": "delivery",
    "Fetching": "photos",
    "Received": "inbox",
    "TooLarge": "photos",
    "place_of": "counts",
    "staffed": "process_lock",
}


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"triagebot.delivery.{_LATER[name]}"), name)
