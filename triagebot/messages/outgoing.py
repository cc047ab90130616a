"""What a channel is given to send, what it gives back, and the ways in which sending can fail."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, Protocol, runtime_checkable

from triagebot.conversation import Case, Reply, from_data, to_data
from triagebot.conversation.blocks import Forward, Picture
from triagebot.conversation.events import Closed, Opened, Remarked, Spoke
from triagebot.conversation.reply import sent_on
from triagebot.messages.incoming import Pressed

if TYPE_CHECKING:
    from triagebot.store.message_rows import OutboxRow

#: A reply; a change of an earlier message, which loses its buttons; something that answers no message.
Kind = Literal["send", "edit", "notice"]


@dataclass(frozen=True, slots=True)
class Outgoing:
    """One message to somebody, in a `language`. Buttons carry `case`, `turn` and a choice's id back in a `Pressed`.

    An edit has the `reply` as it went out, what was `answered` to it ("" if nothing), and the `receipt` of that
    message. `id` is the same for every attempt, for platforms that tell repeats by it. `reply.candidates` is empty.
    `forward`: it is to be sent on as it is. `photo` is the number of somebody's photo that goes with it.

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
    closes: bool = False
    words: str = ""


#: What may go with a message besides a reply: the number of the case that it is about, if it goes to the staff's room;
#: what it answers there, and whether it is the last; a photo; whose answer it `relayed`, to tell them if it fails; the
#: words that it answers; the code of the case that it is `about`, so that an answer to it finds that.
BESIDE = frozenset({"number", "under", "closes", "last", "photo", "relayed", "words", "about"})

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


class Transient(Undelivered):
    """It may well work later: the network is down, the platform has a fault."""


class Gone(Undelivered):
    """Nobody can be reached there any more: blocked, deleted, left."""


class Refused(Undelivered):
    """This message will never be taken; others may."""


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


def pressed_under(body: Mapping[str, Any] | None, number: int) -> Pressed | None:
    """What it means to put a number under the message of this body: the choice at that place, or so many of what is
    counted. None if it lists no such choice."""
    question = from_data(body).question if body is not None else None
    if body is None or question is None:
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
        closes=body.get("closes", False),
        words=body.get("words", ""),
    )


def _under(body: Mapping[str, Any]) -> Mapping[str, Any]:
    return {"under": body["under"]} if "under" in body else {}
