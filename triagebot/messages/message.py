"""What a channel brings, and what it is given to send: frozen values, and JSON objects for inbox and outbox.

What comes in says who said or did what, under which key. What goes out is a reply; the channel gives a receipt for it,
or says in which way sending failed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, Protocol, runtime_checkable

from pydantic import TypeAdapter

from triagebot.conversation import Case, Reply, from_data, to_data
from triagebot.conversation.blocks import Forward, Picture
from triagebot.conversation.events import Closed, Opened, Remarked, Spoke
from triagebot.conversation.journal import Tagged
from triagebot.conversation.reply import sent_on

if TYPE_CHECKING:
    from triagebot.store.encryption import Cipher
    from triagebot.store.message_rows import OutboxRow


# --- what comes in ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Said:
    """Somebody wrote something."""

    text: str

    @property
    def bare(self) -> "Said":
        """The same without the stroke of a chat program's command: "/queue" is "queue"."""
        return Said(self.text[1:]) if self.text[:1] in ("/", "!") else self


@dataclass(frozen=True, slots=True)
class Pressed:
    """Somebody pressed a button: that of a message which showed `case` at `turn` (see `Outgoing`)."""

    case: str
    turn: int
    choice: str


@dataclass(frozen=True, slots=True)
class Reacted:
    """Somebody put a `number` under the message that the platform calls `of`: that of a choice which it lists; or a
    sign that stands for the `choice` of that id, and no number."""

    number: int
    of: str
    choice: str = ""


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


@dataclass(frozen=True, slots=True)
class Joined:
    """Somebody has come into a room where the bot was alone with somebody else, and has said nothing yet."""


Content = Said | Pressed | Reacted | Edited | Arrived | Sent | Chose | Commanded | Joined


@dataclass(frozen=True, slots=True)
class Beside:
    """Somebody else, called `name`, with whom the bot talks in the same place. `conversation` is theirs where the bot
    had been alone with them before; without, the message answers what was put to them."""

    name: str
    conversation: str = ""


@dataclass(frozen=True, slots=True)
class InRoom:
    """Something that was said in the staff's room in answer to the bot. `who` is the member's conversation in private;
    `place` is the thread ("" for none), and `code` that of the case which the answered message names ("" where the
    platform does not show it again). Without `answers` it answers nothing of the bot's, and stays there."""

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
    platform calls that message, where it does not show it again. `beside` is somebody else whom it may be about.
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
    beside: Beside | None = None

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


# --- what goes out ----------------------------------------------------------------------------------------------------

#: A reply; a change of an earlier message, which loses its buttons; something that answers no message.
Kind = Literal["send", "edit", "notice"]


@dataclass(frozen=True, slots=True)
class Outgoing:
    """One message to somebody, in a `language`. Buttons carry `case`, `turn` and a choice's id back in a `Pressed`.

    An edit has the `reply` as it went out, what was `answered` to it ("" if nothing), and the `receipt` of that
    message. `id` is the same for every attempt, for platforms that tell repeats by it. `forward`: it is to be sent on
    as it is. `photo` is the number of somebody's photo that goes with it, and `album` are those that go with that one.

    An address with `opens` begins a thread of its own for all that comes behind it, called so; the receipt says where
    that is, as `address`, and by what it is known, as `lies`. `under` in an address is what the message answers.
    `closes`: nothing comes behind it there. `words` are those that it answers, where the channel wanted them kept.
    """

    id: int
    kind: Kind
    address: Mapping[str, Any]
    reply: Reply
    case: str
    turn: int
    language: str
    attempt: int = 1
    answered: str = ""
    receipt: Mapping[str, Any] = field(default_factory=dict)
    forward: bool = False
    photo: int | None = None
    album: tuple[int, ...] = ()
    closes: bool = False
    words: str = ""

    @property
    def photos(self) -> tuple[int, ...]:
        return () if self.photo is None else (self.photo, *self.album)


#: What may go with a message besides a reply: the number of the case that it is about, if it goes to the staff's room;
#: what it answers there, and whether it is the last; a photo, and those that make an album with it; whose answer it
#: `relayed`, to tell them if it fails; the words that it answers; the code of the case that it is `about`, so that an
#: answer to it finds that.
BESIDE = frozenset({"number", "under", "closes", "last", "photo", "album", "relayed", "words", "about"})

#: What a platform says about a message that it took (its id there …), as a JSON object.
Receipt = Mapping[str, Any]


class Channel(Protocol):
    """A way to talk that sends by itself, at its own pace."""

    @property
    def name(self) -> str:
        """What its messages are filed under, such as `telegram`."""

    @property
    def edits(self) -> bool:
        """Whether a message that was answered is changed afterwards."""

    async def deliver(self, message: Outgoing) -> Receipt:
        """Send one message. Raises one of the errors below; calls for different conversations run side by side."""

    def harmless_to_repeat(self, kind: Kind) -> bool:
        """Whether a message that a crash may have cut off, or may not, is sent once more."""


@runtime_checkable
class HasAlbums(Channel, Protocol):
    """A channel on which several photos can be one message."""

    @property
    def albums(self) -> bool:
        """Whether they can."""


@runtime_checkable
class DeepLinks(Protocol):
    """A channel that has addresses which lead to it, and with which somebody brings a code along."""

    def deep_link(self, code: str) -> str:
        """The address for a code; "" while there is none."""


class Undelivered(Exception):  # noqa: N818 - each says what happened
    """Root of the ways in which a channel says that a message did not go out.

    What it says goes into the log and the outbox in clear: no token, nothing that somebody wrote, nobody's id.
    """


class RetryAfter(Undelivered):
    """The platform wants a pause of so many `seconds` in this conversation."""

    def __init__(self, seconds: float) -> None:
        super().__init__(f"wait {seconds:g} s")
        self.seconds = seconds


class Withheld(RetryAfter):
    """We may not speak there now. It is tried again as soon as that may have changed, and after so many `seconds`."""


class Transient(Undelivered):
    """It may well work later: the network is down, the platform has a fault."""


class Gone(Undelivered):
    """Nobody can be reached there any more: blocked, deleted, left."""


class Refused(Undelivered):
    """This message will never be taken; others may. `receipt` says what there is all the same, such as the thread that
    was made for it."""

    def __init__(self, why: str, receipt: Receipt | None = None) -> None:
        super().__init__(why)
        self.receipt: Receipt = receipt or {}


def turn_number(case: Case) -> int:
    """How often what is open in a case may have changed. A button of an older turn belongs to something else.

    Counting questions alone would not do: after a step back another question is open, though none was put.
    """
    return sum(not isinstance(event, Opened | Remarked | Spoke | Closed) for event in case.events)


def body_of(case: Case | None, reply: Reply, language: str) -> dict[str, Any]:
    """A reply as it is kept in the outbox: all that a channel shows, without the probabilities. `language` is the one
    for those who have no case."""
    return {
        **to_data(reply.without(Forward)),
        "case": case.code if case is not None else "",
        "language": case.language if case is not None else language,
        "turn": turn_number(case) if case is not None else 0,
    }


def with_words(body: dict[str, Any], words: str) -> dict[str, Any]:
    """The body of a message that keeps the words which it answers, if there are any to keep."""
    return {**body, "words": words} if words else body


def forward_of(reply: Reply, body: Mapping[str, Any]) -> dict[str, Any] | None:
    """What of a reply is to be sent on, as a message of its own behind that of this `body`; None if there is nothing.
    It asks for nothing, since the person whom it is for answers elsewhere."""
    forward = reply.forward
    if forward is None:
        return None
    pictured = (Picture(forward.picture),) if forward.picture is not None else ()
    alone = Reply((*sent_on(forward), *pictured), reply.status)
    return {**{name: value for name, value in body.items() if name != "words"}, **to_data(alone), "forward": True}


def asks(body: Mapping[str, Any]) -> bool:
    """Whether the message of this new body waits for an answer that can be pressed."""
    return any(block["is"] in ("question", "offers") for block in body["blocks"])


def pressed_under(body: Mapping[str, Any] | None, reacted: Reacted) -> Pressed | None:
    """What it means to put a number under the message of this body: the choice at that place, or so many of what is
    counted; or what a sign stands for. None if it lists no such choice."""
    if body is None:
        return None
    reply, number = from_data(body), reacted.number
    question = reply.question
    if reacted.choice:
        listed = question.aside if question is not None else reply.offers
        found = reacted.choice in {each.id for each in listed}
        return Pressed(body["case"], body["turn"], reacted.choice) if found else None
    if question is None:
        return None
    if question.numbers:
        return Pressed(body["case"], body["turn"], str(number))
    if not 1 <= number <= len(question.choices):
        return None
    return Pressed(body["case"], body["turn"], question.choices[number - 1].id)


def outgoing(letter: "OutboxRow") -> Outgoing:
    """What a channel is given for a row of the outbox."""
    body = letter.body if letter.old is None else letter.old
    return Outgoing(
        id=letter.id,
        kind=letter.kind,  # type: ignore[arg-type]
        address={**letter.address, **_under(body)},
        reply=from_data(body),
        case=body["case"],
        turn=body["turn"],
        language=body["language"],
        attempt=letter.attempts,
        answered=letter.body.get("answered", ""),
        receipt=letter.receipt or {},
        forward=body.get("forward", False),
        photo=body.get("photo"),
        album=tuple(body.get("album", ())),
        closes=body.get("closes", False),
        words=body.get("words", ""),
    )


def _under(body: Mapping[str, Any]) -> Mapping[str, Any]:
    return {"under": body["under"]} if "under" in body else {}
