"""What was seen in a room, in plain values: whoever reads it needs to know nothing of keys, syncing or the library.

Decided here and nowhere else: which kinds of things that happen in a room can matter to a conversation.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

#: words: text of any kind; picture: an image; thing: any other message (voice, file, place, poll, sticker …);
#: correction: a message put in place of an earlier one (`about`), or of its caption; reaction: `text` under the message
#: `about`; locked: a message that cannot be read, for want of its key.
Kind = Literal["words", "picture", "thing", "correction", "reaction", "locked"]


@dataclass(frozen=True, slots=True)
class Room:
    """A room as it stood when something was seen in it: `direct` when the bot and one person are its only members (a
    bridge's own account aside); `first` is the name that it had before it was upgraded, however often."""

    id: str
    first: str
    direct: bool
    encrypted: bool


@dataclass(frozen=True, slots=True)
class Seen:
    """One event that somebody other than the bot made, after the bot came in, in the order of the room.

    `text` is the plain body without the quoted fallback of a reply, `name` the sender's display name; `what` says which
    kind of thing it is; `file` is where a picture lies (JSON: url, and key, iv, hash where the room is encrypted);
    `thread` is the event at the root of its thread; `about` the event that it corrects or reacts to; `answers` the
    event that it replies to; `answers_us` when that one is the bot's; `mentions_us` when the bot is mentioned by the
    platform's own means, or named in the text.
    """

    kind: Kind
    id: str
    room: Room
    sender: str
    at: datetime
    text: str = ""
    name: str = ""
    what: str = ""
    file: Mapping[str, Any] = field(default_factory=dict)
    thread: str = ""
    about: str = ""
    answers: str = ""
    answers_us: bool = False
    mentions_us: bool = False
