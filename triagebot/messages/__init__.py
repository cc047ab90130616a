"""What comes in and what goes out, as frozen values, and codes to read aloud."""

from triagebot.messages.codes import new_code
from triagebot.messages.incoming import (
    Arrived,
    Chose,
    Commanded,
    Content,
    Edited,
    Incoming,
    InRoom,
    Pressed,
    Reacted,
    Said,
    Sent,
)
from triagebot.messages.outgoing import (
    Channel,
    DeepLinks,
    Gone,
    Outgoing,
    Receipt,
    Refused,
    RetryAfter,
    Transient,
    Undelivered,
    turn_number,
)

__all__ = [
    "Arrived",
    "Channel",
    "Chose",
    "Commanded",
    "Content",
    "DeepLinks",
    "Edited",
    "Gone",
    "InRoom",
    "Incoming",
    "Outgoing",
    "Pressed",
    "Reacted",
    "Receipt",
    "Refused",
    "RetryAfter",
    "Said",
    "Sent",
    "Transient",
    "Undelivered",
    "new_code",
    "turn_number",
]
