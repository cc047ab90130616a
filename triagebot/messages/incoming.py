"""What a channel brings: who said or did what, under which key. Frozen values; JSON objects for the inbox."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import TypeAdapter

from triagebot.conversation.tagged import Tagged

if TYPE_CHECKING:
    from triagebot.store.encryption import Cipher


@dataclass(frozen=True, slots=True)
class Said:
    """Somebody wrote something."""

    text: str


@dataclass(frozen=True, slots=True)
class Pressed:
    """Somebody pressed a button: that of a message which showed `case` at `turn` (see `Outgoing`)."""

    case: str
    turn: int
    choice: str


@dataclass(frozen=True, slots=True)
class Reacted:
    """Somebody put a `number` under the message that the platform calls `of`: that of a choice which it lists."""

    number: int
    of: str


@dataclass(frozen=True, slots=True)
class Edited:
    """Somebody changed the text of the message that came under the key `of`. `if_taken`: it only counts if that one
    was received in the same conversation; without, it is a message like any other then."""

    text: str
    of: str
    if_taken: bool = False


@dataclass(frozen=True, slots=True)
class Arrived:
    """Somebody comes in: an unfinished case is shown where it stands, unless a `new` one is asked for, or the one of
    their own that has this `code`. `secret` is what else they bring with them: it may let them do something."""

    new: bool = False
    code: str = ""
    secret: str = ""


@dataclass(frozen=True, slots=True)
class Sent:
    """Somebody sent something that is no text. `files` are JSON objects by which the channel finds photos; `note` is
    its caption; what comes under the same `album` is one message, however many parts it comes in."""

    what: str
    files: tuple[Mapping[str, Any], ...] = ()
    note: str = ""
    album: str = ""


@dataclass(frozen=True, slots=True)
class Chose:
    """Somebody wants to go on in another language."""

    language: str


@dataclass(frozen=True, slots=True)
class Commanded:
    """Somebody gave one of the commands of a conversation by its id (`help`, `back`, `forget` …), in no language."""

    command: str


Content = Said | Pressed | Reacted | Edited | Arrived | Sent | Chose | Commanded


@dataclass(frozen=True, slots=True)
class InRoom:
    """Something that was said in the staff's room, as an explicit answer to a message of the bot's. `who` is the
    member's conversation in private; `place` is the thread ("" for none), and `code` that of the case which the
    answered message names ("" where the platform does not show it again). Without `answers` it answers nothing of the
    bot's, and stays there."""

    who: str
    place: str
    code: str = ""
    answers: bool = True


@dataclass(frozen=True, slots=True)
class Incoming:
    """One message or press. `key` is the platform's own id of it: what comes twice under a key counts once.

    `conversation` tells the people of a channel apart; messages of one conversation are taken in the order in which
    they were received. `address` is what the channel needs to answer. `at` is when it was sent, an aware time.
    `private`: nobody else reads along, and the platform vouches for who wrote. `forwarded`: somebody else's words.
    `room`: it was said in the staff's room; `conversation` is to be found by that then. `words` are the person's own,
    to be kept with the answer by a channel that shows them again and has nobody else to remember them.
    `about` is the code of the case that the message names which this one answers, in private; `answers` is what the
    platform calls that message, where it does not show it again.
    """

    channel: str
    key: str
    conversation: str
    address: Mapping[str, Any]
    content: Annotated[Content, Tagged("kind")]
    at: datetime
    language: str = "en"
    private: bool = True
    forwarded: bool = False
    room: InRoom | None = None
    words: str = ""
    about: str = ""
    answers: str = ""

    @property
    def person(self) -> str:
        """Who wrote, as they are looked up."""
        return f"{self.channel}:{self.conversation}"

    def key_hash(self, cipher: "Cipher") -> str:
        """The hash by which it counts once."""
        return cipher.lookup_hash("key", self.channel, self.key)


#: What was sent as it is called now, by the name under which earlier versions kept it.
_SENT_BEFORE = {"locked": "undecryptable"}


@cache
def _kept() -> TypeAdapter[Incoming]:
    return TypeAdapter(Incoming)


def to_json(incoming: Incoming) -> dict[str, Any]:
    """As it is kept while it waits."""
    kept: dict[str, Any] = _kept().dump_python(incoming, mode="json")
    return kept | {"at": incoming.at.isoformat()}


def from_json(data: Mapping[str, Any]) -> Incoming:
    """What `to_json` wrote, in this version or an earlier one."""
    incoming = _kept().validate_python(data)
    if isinstance(incoming.content, Sent) and incoming.content.what in _SENT_BEFORE:
        return replace(incoming, content=replace(incoming.content, what=_SENT_BEFORE[incoming.content.what]))
    return incoming
