"""What happened in a room, in plain values: their reader knows nothing of keys, syncs or nio."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

#: What every message of a triagebot has in its content: those of others of its kind are not answered.
OURS = "triagebot.bot"

#: words: text of any kind; picture: an image; thing: any other message (voice, file, place, poll, sticker …);
#: correction: an edit of the message `about`, or of its caption; reaction: `text` under the message `about`;
#: redaction: the message `about` is gone; joined: somebody has come in;
#: undecryptable: a message that cannot be decrypted yet.
Kind = Literal["words", "picture", "thing", "correction", "redaction", "joined", "reaction", "undecryptable"]


@dataclass(frozen=True, slots=True)
class Room:
    """A room at the time of an event: `direct` when the bot and one person are its only members (a bridge's own account
    aside); `first` is the id that it had before all upgrades; `alone` is who is in it besides, "" for more or nobody:
    who is only invited does not count there."""

    id: str
    first: str
    direct: bool
    encrypted: bool
    alone: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """One event that somebody other than the bot made, after the bot came in, in the order of the room.

    `text` is the plain body without the quoted fallback of a reply, `name` the sender's display name; `what` says which
    thing it is; `file` where a picture is (url, and key, iv, hashes where the room is encrypted); `thread` the event at
    the root of its thread; `about` the event that it corrects or reacts to; `answers` the event that it replies to;
    `answers_us` when that one is the bot's; `mentions_us` when it mentions the bot by the platform's own means, or
    names it in the text; `put_to` is whom that of the bot's was put to, and `put_to_name` what they are called;
    `mentions_others` when it mentions anybody else by the platform's own means.
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
    mentions_others: bool = False
    put_to: str = ""
    put_to_name: str = ""
