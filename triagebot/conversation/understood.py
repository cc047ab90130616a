"""What a message was taken to mean: the frozen values that understanding hands to the turn."""

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from triagebot.conversation.journal import Tagged
from triagebot.identify.readings import Reading

#: Words that always work (contract C6), and the small talk that gets its own reply.
Command = Literal[
    "help", "back", "change", "restart", "stop", "person", "how", "why", "yes", "no", "greeting", "thanks", "resume",
    "case", "privacy", "export", "language", "forget", "erase", "keep", "move", "stay", "bot", "who", "said", "left",
    "tool", "steps", "cautions", "needs", "price", "refit", "buying", "shop", "how-to-tell",
    "ask-them", "dont-ask",
]  # fmt: skip

#: What a message, or a part of it, speaks of when that is no news of this wheel.
Aside = Literal[
    "question", "about", "plan", "wish", "if", "hearsay", "memory", "other", "trailing", "front", "belief", "chat",
]  # fmt: skip

#: Why a message, or a part of it, gave no reading.
Tone = Literal["plain", "empty", "symbols", "off-topic", "hostile"]


@dataclass(frozen=True, slots=True)
class Fact:
    """One reading and the words that it came from. `corrects` replaces earlier answers to the same question."""

    reading: Annotated[Reading, Tagged("kind")]
    text: str
    corrects: bool = False


@dataclass(frozen=True, slots=True)
class Puzzle:
    """Something said that must be asked about before it counts.

    `unit`: the number fits only in another unit ("did you mean 23 mm?"); `proposed` is that reading.
    `likely`: it most likely says `proposed`, and that is not sure enough to count ("you mean it stays still?").
    `range`: no such count or size can be; `choice`: not one of the open question's answers; `conflict`: the message
    says two things at once. `question` is the question it is about, `text` the person's words.
    """

    kind: Annotated[Literal["unit", "range", "choice", "conflict", "likely"], Field(alias="of")]
    question: str
    text: str
    proposed: Annotated[Reading, Tagged("kind")] | None = None


@dataclass(frozen=True, slots=True)
class Meaning:
    """A message, understood. Empty `facts` and no `command` means that nothing was.

    `whole`: the message is the command and says nothing besides. `asides`: what was passed over, with the person's
    words, because of what it speaks of; `mood`: what the message speaks of when nothing in it is news. `unread`: words
    that were not read beside those that were. `insists`: the person stands by an earlier answer. `language`: the
    language it is in, when that is not spoken here. `dropped`: what was read and is too little sure even to be asked
    back, unless a tool hangs on it.
    """

    facts: tuple[Fact, ...] = ()
    command: Command | None = None
    target: str | None = None
    puzzles: tuple[Puzzle, ...] = ()
    mentions: tuple[str, ...] = ()
    tone: Tone = "plain"
    cut: bool = False
    whole: bool = False
    asides: tuple[tuple[Aside, str], ...] = ()
    mood: Aside | None = None
    unread: str = ""
    insists: bool = False
    language: str | None = None
    dropped: tuple[Puzzle, ...] = ()
