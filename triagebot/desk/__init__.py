"""The desk: takes a message in, runs one turn, hands out what comes of it, all crash-safe.

`Sitting` is for whoever waits for each answer (terminal, JSON lines), `Desk` for channels that send by themselves.
"""

from typing import TYPE_CHECKING, Any

from triagebot.desk.codes import new_code
from triagebot.desk.incoming import Arrived, Chose, Commanded, Edited, Incoming, InRoom, Pressed, Reacted, Said, Sent
from triagebot.desk.sitting import Heard, Sitting

if TYPE_CHECKING:
    from triagebot.desk.counts import Counts, place_of
    from triagebot.desk.desk import Desk
    from triagebot.desk.intake import Received
    from triagebot.desk.outgoing import Channel, Gone, Outgoing, Receipt, Refused, RetryAfter, Transient, turn_number
    from triagebot.desk.photos import Fetching, TooLarge
    from triagebot.desk.relay import StaffRoom
    from triagebot.desk.staffing import staffed

__all__ = [
    "Arrived",
    "Channel",
    "Chose",
    "Commanded",
    "Counts",
    "Desk",
    "Edited",
    "Fetching",
    "Gone",
    "Heard",
    "InRoom",
    "Incoming",
    "Outgoing",
    "Pressed",
    "Reacted",
    "Receipt",
    "Received",
    "Refused",
    "RetryAfter",
    "Said",
    "Sent",
    "Sitting",
    "StaffRoom",
    "TooLarge",
    "Transient",
    "new_code",
    "place_of",
    "staffed",
    "turn_number",
]

#: What needs the database library is loaded when somebody asks for it.
_LATER = (
    {"Counts": "counts", "Desk": "desk", "place_of": "counts", "staffed": "staffing", "Received": "intake"}
    | {"StaffRoom": "relay"}
    | dict.fromkeys(("Fetching", "TooLarge"), "photos")
    | dict.fromkeys(
        ("Channel", "Gone", "Outgoing", "Receipt", "Refused", "RetryAfter", "Transient", "turn_number"), "outgoing"
    )
)


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"triagebot.desk.{_LATER[name]}"), name)
