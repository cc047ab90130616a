"""What a reply is made of: one frozen value a part, with what machines need beside its words (`lines` says how they
read)."""

from dataclasses import dataclass
from typing import Annotated, Literal

from triagebot.conversation.journal import Tagged
from triagebot.shop import NoteLink

Band = Literal["sure", "fairly-sure", "likely", "two", "person"]
Signal = Literal["warning", "caution", "notice"]


@dataclass(frozen=True, slots=True)
class Choice:
    """A listed answer: its id and its label."""

    id: str
    label: str


@dataclass(frozen=True, slots=True)
class Understood:
    """The echo of what was read, and the `questions` that it answers."""

    text: str
    questions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Remark:
    """Any other sentence. `about` is the id of the text that it was made from."""

    text: str
    about: str = ""


@dataclass(frozen=True, slots=True)
class HowTo:
    """How to check a question."""

    text: str
    question: str


@dataclass(frozen=True, slots=True)
class AnswerList:
    """The answers given so far, numbered, to pick the one that is to change."""

    text: str


@dataclass(frozen=True, slots=True)
class Preface:
    """Leads over to the question that stands behind it."""

    text: str


@dataclass(frozen=True, slots=True)
class Finding:
    """What it is and how sure that is, or that a person must look."""

    text: str
    band: Band
    fastenings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reasons:
    """Why; what would change it; what is known so far."""

    text: str


@dataclass(frozen=True, slots=True)
class Hazard:
    """A caution by its id, with its signal word and its step as they are shown; no step where none is shown."""

    signal: Signal
    word: str
    step: str
    text: str
    caution: str


@dataclass(frozen=True, slots=True)
class SeparatingCheck:
    """The check that tells two kinds apart."""

    text: str


@dataclass(frozen=True, slots=True)
class Tool:
    """The remover as the shop calls it and where it hangs ("" for both where it has none). `listed`: one of two."""

    text: str
    remover: str
    name: str = ""
    hangs: str = ""
    listed: bool = False


@dataclass(frozen=True, slots=True)
class Direction:
    """Which way it loosens."""

    text: str
    turns: str


@dataclass(frozen=True, slots=True)
class Needs:
    """What else is needed."""

    head: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work; `watch` is what a mentor should look out for."""

    text: str
    id: str
    watch: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to know next."""

    text: str
    id: str


@dataclass(frozen=True, slots=True)
class NoteLinks:
    """Notes of the shop, each with its address."""

    head: str
    notes: tuple[NoteLink, ...]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """The part of a note that says most about what was asked: `lead` says where it is, `text` what it says."""

    lead: str
    note: NoteLink
    text: str


@dataclass(frozen=True, slots=True)
class Services:
    """What the shop does itself."""

    head: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """How to reach a person."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CaseCode:
    """The code to read aloud."""

    text: str
    code: str


@dataclass(frozen=True, slots=True)
class CardLink:
    """Where the case's card is."""

    text: str
    url: str


@dataclass(frozen=True, slots=True)
class WhatNext:
    """What to do now; `kind` is the id of the text that it was made from."""

    text: str
    kind: str


@dataclass(frozen=True, slots=True)
class Question:
    """The open question as shown. `unit` is mm for a size; `picture` is the id of what illustrates it; `aside` are the
    answers that every question has ("I don't know", "How do I check?"); `numbers` are likely counts, and last a way to
    another one."""

    id: str
    kind: str
    text: str
    choices: tuple[Choice, ...]
    unit: str | None = None
    picture: str | None = None
    aside: tuple[Choice, ...] = ()
    numbers: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Offers:
    """What may be said or pressed where no question is shown."""

    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """Illustrates the outcome that is told here, by its id."""

    id: str


@dataclass(frozen=True, slots=True)
class Attachment:
    """A small file that goes with the message, by its `name`; channels that send none say the rest."""

    name: str
    content: str


@dataclass(frozen=True, slots=True)
class Compact:
    """Blocks that stand close, without an empty line between them: what staff read at the bench."""

    blocks: "tuple[Block, ...]"


@dataclass(frozen=True, slots=True)
class Forward:
    """What a mentor sends on as it is; `picture` is the id of what illustrates it."""

    blocks: "tuple[Block, ...]"
    picture: str | None = None


Block = Annotated[
    Understood
    | Remark
    | HowTo
    | AnswerList
    | Preface
    | Finding
    | Reasons
    | Hazard
    | SeparatingCheck
    | Tool
    | Direction
    | Needs
    | Step
    | Advice
    | NoteLinks
    | Excerpt
    | Services
    | Reach
    | CaseCode
    | CardLink
    | WhatNext
    | Question
    | Offers
    | Picture
    | Attachment
    | Compact
    | Forward,
    Tagged("is"),
]
