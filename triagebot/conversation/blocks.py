"""What a reply is made of: one frozen value a part, with what machines need beside its words.

Rules of this file:
- `lines` says how a block reads as plain text, and which of it is a signal word, a link, an item of a list or a
  question: channels mark up what these lines say, and never look at letters;
- `_TOGETHER` says which neighbours stand without an empty line between them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, Literal, get_args

from pydantic import Discriminator, SerializerFunctionWrapHandler, Tag, WrapSerializer

from triagebot.shop import NoteLink

#: Stands above and below what is to be sent on.
CUT = "– – – – –"
#: How an item of a list begins.
_ITEM = "– "

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
    """One step of the work."""

    text: str
    id: str


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
    answers that every question has ("I don't know", "How do I check?")."""

    id: str
    kind: str
    text: str
    choices: tuple[Choice, ...]
    unit: str | None = None
    picture: str | None = None
    aside: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Offers:
    """What may be said or pressed where no question is shown."""

    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """Illustrates the outcome that is told here, by its id."""

    id: str


@dataclass(frozen=True, slots=True)
class Compact:
    """Blocks that stand close, without an empty line between them: what staff read at the bench."""

    blocks: "tuple[Block, ...]"


@dataclass(frozen=True, slots=True)
class Forward:
    """What a mentor sends on as it is; `picture` is the id of what illustrates it."""

    blocks: "tuple[Block, ...]"
    picture: str | None = None


def _name(block: Any) -> str | None:
    return block.get("is") if isinstance(block, dict) else _names().get(type(block))


@cache
def _names() -> dict[type, str]:
    """What each block is called in what is stored."""
    tagged = (get_args(each) for each in get_args(get_args(Block)[0]))
    return {kind: tag.tag for kind, tag in tagged}


def _named(block: "Block", written: SerializerFunctionWrapHandler) -> dict[str, Any]:
    return {"is": _names()[type(block)], **written(block)}


Block = Annotated[
    Annotated[Understood, Tag("understood")]
    | Annotated[Remark, Tag("remark")]
    | Annotated[HowTo, Tag("how-to")]
    | Annotated[AnswerList, Tag("answer-list")]
    | Annotated[Preface, Tag("preface")]
    | Annotated[Finding, Tag("finding")]
    | Annotated[Reasons, Tag("reasons")]
    | Annotated[Hazard, Tag("hazard")]
    | Annotated[SeparatingCheck, Tag("separating-check")]
    | Annotated[Tool, Tag("tool")]
    | Annotated[Direction, Tag("direction")]
    | Annotated[Needs, Tag("needs")]
    | Annotated[Step, Tag("step")]
    | Annotated[Advice, Tag("advice")]
    | Annotated[NoteLinks, Tag("note-links")]
    | Annotated[Excerpt, Tag("excerpt")]
    | Annotated[Services, Tag("services")]
    | Annotated[Reach, Tag("reach")]
    | Annotated[CaseCode, Tag("case-code")]
    | Annotated[CardLink, Tag("card-link")]
    | Annotated[WhatNext, Tag("what-next")]
    | Annotated[Question, Tag("question")]
    | Annotated[Offers, Tag("offers")]
    | Annotated[Picture, Tag("picture")]
    | Annotated[Compact, Tag("compact")]
    | Annotated[Forward, Tag("forward")],
    Discriminator(_name),
    WrapSerializer(_named),
]


# --- as lines -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Line:
    """One line. `item` is what it begins with in a list ("– ", "  1. "). `gap`: an empty line stands above it. `head`:
    so many characters at its beginning are a signal word with its step. A `link` leads from its title, with which the
    text ends, to its address; in plain text the address follows. `mark` says what it is: the question that is asked,
    or what may always be said."""

    text: str
    item: str = ""
    gap: bool = False
    head: int = 0
    link: NoteLink | None = None
    mark: Literal["", "question", "choice", "aside", "cut"] = ""

    @property
    def plain(self) -> str:
        """The line as plain text."""
        address = f": {self.link.url}" if self.link is not None else ""
        return f"{self.item}{self.text}{address}"


#: Neighbours that stand without an empty line between them.
_TOGETHER = frozenset(
    {
        (Reasons, Reasons),
        (Hazard, Hazard),
        (Tool, Tool),
        (Tool, Direction),
        (Advice, Advice),
        (CaseCode, WhatNext),
    }
)


def lines(block: Block) -> tuple[Line, ...]:
    """A block as lines; none for what has no words of its own."""
    match block:
        case Hazard():
            head = f"{block.word} ({block.step}):" if block.step else f"{block.word}:"
            return (Line(f"{head} {block.text}", head=len(head)),)
        case Tool(listed=True):
            return (Line(block.text, _ITEM),)
        case Needs() | Services():
            return (*_paragraphs(block.head), *(Line(item, _ITEM) for item in block.items))
        case NoteLinks():
            return (*_paragraphs(block.head), *(Line(note.title, _ITEM, link=note) for note in block.notes))
        case Excerpt():
            where = Line(f"{block.lead} {block.note.title}", link=block.note)
            return (where, *_paragraphs(block.text))
        case Reach():
            return tuple(map(Line, block.lines))
        case Question():
            asked = (replace(line, mark="question") for line in _paragraphs(block.text))
            choices = (Line(choice.label, f"  {n}. ", mark="choice") for n, choice in enumerate(block.choices, 1))
            return (*asked, *choices, *_beside(block.aside))
        case Offers():
            return _beside(block.choices)
        case Compact():
            return tuple(line for each in block.blocks for line in lines(each))
        case Forward():
            cut = Line(CUT, mark="cut")
            return (cut, *lines_of(sent_on(block)), cut)
        case Picture():
            return ()
        case _:
            return _paragraphs(block.text)


def lines_of(blocks: Sequence[Block]) -> Iterator[Line]:
    """Blocks as lines, with the gaps between them. Choices that stand in what is to be sent on are not listed again."""
    return (line for _, line in by_block(blocks))


def by_block(blocks: Sequence[Block]) -> Iterator[tuple[Block, Line]]:
    """Every line of these blocks (see `lines_of`), with the block that says it."""
    before: type | None = None
    sent_on = any(isinstance(block, Forward) for block in blocks)
    for block in blocks:
        begins = True
        for part in block.blocks if isinstance(block, Compact) else (block,):
            for line in lines(replace(part, choices=()) if sent_on and isinstance(part, Question) else part):
                apart = begins and before is not None and (before, type(block)) not in _TOGETHER
                yield part, replace(line, gap=True) if apart else line
                begins = False
        before = before if begins else type(block)


def plain_of(blocks: Sequence[Block]) -> str:
    """Blocks as plain text."""
    return written(lines_of(blocks))


def written(rows: "Iterator[Line] | Sequence[Line]") -> str:
    """Lines as plain text."""
    return "\n".join(("\n" if line.gap else "") + line.plain for line in rows)


def _paragraphs(text: str) -> tuple[Line, ...]:
    """The lines of a text, which may have paragraphs of its own."""
    found: list[Line] = []
    gap = False
    for row in text.split("\n") if text else ():
        if row:
            found.append(Line(row, gap=gap and bool(found)))
        gap = not row
    return tuple(found)


def _beside(choices: Sequence[Choice]) -> tuple[Line, ...]:
    return (Line(f"  ({' · '.join(choice.label for choice in choices)})", mark="aside"),) if choices else ()


def sent_on(forward: Forward) -> tuple[Block, ...]:
    """What is sent on as a message of its own. Its question has its choices in its words, and nothing to press."""
    found: list[Block] = []
    for block in forward.blocks:
        if isinstance(block, Question):
            rows = (f"{number}. {choice.label}" for number, choice in enumerate(block.choices, 1))
            found.append(Remark("\n".join([block.text, *rows]), f"question-{block.id}"))
        else:
            found.append(block)
    return tuple(found)
