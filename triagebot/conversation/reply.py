"""What goes back to a person: blocks in the order in which they are read, and the outcome in ids for machines.

Rules of this file:
- all that a channel shows of a reply stands in its blocks (contract C9: their plain text is complete);
- others choose blocks by their types (`of`, `without`) and put blocks before them (`first`, `before_question`): nobody
  searches, splits or cuts the words of a reply;
- `lines` says how a block reads, and which of it is a signal word, a link, an item of a list or a question: channels
  mark up what these lines say, and never look at letters;
- `_TOGETHER` says which neighbours stand without an empty line between them;
- `to_data` keeps blocks as data with a version, and `from_data` reads every version that was ever kept.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal, TypeVar, overload

from pydantic import TypeAdapter

from triagebot.conversation.blocks import (
    Advice,
    Attachment,
    Block,
    CaseCode,
    Choice,
    Compact,
    Direction,
    Excerpt,
    Forward,
    Hazard,
    Needs,
    NoteLinks,
    Offers,
    Picture,
    Preface,
    Question,
    Reach,
    Reasons,
    Remark,
    Services,
    Tool,
    WhatNext,
)
from triagebot.shop import NoteLink

Status = Literal["question", "answer", "look-alike", "person", "stopped"]
#: What comes after all that is said.
_AFTER = (Forward, Question, Offers, Picture, Attachment)

#: Stands above and below what is to be sent on.
CUT = "– – – – –"
#: How an item of a list begins.
_ITEM = "– "

B = TypeVar("B")


@dataclass(frozen=True, slots=True)
class Share:
    """A fastening that is still possible, its remover, and its probability."""

    fastening: str
    remover: str | None
    probability: float


@dataclass(frozen=True, slots=True)
class Result:
    """The outcome in ids, for machines: filled when the conversation has ended in an answer or a look-alike."""

    fastening: str | None = None
    remover: str | None = None
    cautions: tuple[str, ...] = ()
    notes: tuple[NoteLink, ...] = ()


@dataclass(frozen=True, slots=True)
class Reply:
    """One message to a person. `candidates` are all fastenings, likeliest first; their probabilities sum to 1. They are
    for machines and staff."""

    blocks: tuple[Block, ...]
    status: Status
    result: Result = Result()
    candidates: tuple[Share, ...] = ()

    @overload
    def of(self, kind: type[B], /) -> tuple[B, ...]: ...
    @overload
    def of(self, *kinds: type) -> tuple[Block, ...]: ...
    def of(self, *kinds: type) -> tuple[Any, ...]:
        """The blocks of these types, in order."""
        return tuple(block for block in self.blocks if isinstance(block, kinds))

    def without(self, *kinds: type) -> "Reply":
        """The reply without blocks of these types."""
        return replace(self, blocks=tuple(block for block in self.blocks if not isinstance(block, kinds)))

    def first(self, *blocks: Block) -> "Reply":
        """The reply with these blocks at its beginning."""
        return replace(self, blocks=(*blocks, *self.blocks))

    def before_question(self, *blocks: Block) -> "Reply":
        """The reply with these blocks behind all that is said, and before what leads over to the question."""
        ends = (*_AFTER, Preface) if self.question is not None else _AFTER
        place = next((n for n, block in enumerate(self.blocks) if isinstance(block, ends)), len(self.blocks))
        return replace(self, blocks=(*self.blocks[:place], *blocks, *self.blocks[place:]))

    @property
    def question(self) -> Question | None:
        return next(iter(self.of(Question)), None)

    @property
    def forward(self) -> Forward | None:
        return next(iter(self.of(Forward)), None)

    @property
    def offers(self) -> tuple[Choice, ...]:
        return tuple(choice for block in self.of(Offers) for choice in block.choices)

    @property
    def picture(self) -> str | None:
        """The id of what illustrates the outcome that is told here."""
        return next((block.id for block in self.of(Picture)), None)

    @property
    def shows(self) -> str | None:
        """The id of what illustrates this message: its outcome, else its question."""
        return self.picture or (self.question.picture if self.question is not None else None)

    @property
    def notes(self) -> tuple[NoteLink, ...]:
        """The notes to which this message leads, each once."""
        linked = [note for block in self.of(NoteLinks) for note in block.notes]
        linked += [block.note for block in self.of(Excerpt)]
        return tuple(dict.fromkeys(linked))

    @property
    def said(self) -> tuple[Block, ...]:
        """What is said before the question."""
        return self.without(*_AFTER).blocks


def told(
    text: str,
    status: Status = "question",
    result: Result = Result(),
    *,
    about: str = "",
    question: Question | None = None,
    offers: tuple[Choice, ...] = (),
) -> Reply:
    """A reply of one remark and what may be answered to it."""
    remark = (Remark(text, about),) if text else ()
    asked = (question,) if question is not None else ()
    return Reply((*remark, *asked, *((Offers(offers),) if offers else ())), status, result)


def plain(reply: Reply) -> str:
    """The whole message as plain text: what is said, what is to be sent on, the question with numbered choices, and
    what else may be typed."""
    return plain_of(reply.blocks)


# --- how it reads ---------------------------------------------------------------------------------------------------


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
        (Tool, Advice),
        (Advice, Direction),
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
        case Picture() | Attachment():
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


def length_of(blocks: Sequence[Block]) -> tuple[int, int]:
    """How many words and characters blocks are as plain text."""
    text = plain_of(blocks)
    return len(text.split()), len(text)


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


# --- as data ------------------------------------------------------------------------------------------------------

_VERSION = 1


@cache
def _blocks() -> TypeAdapter[tuple[Block, ...]]:
    return TypeAdapter(tuple[Block, ...])


@cache
def _results() -> TypeAdapter[Result]:
    return TypeAdapter(Result)


def to_data(reply: Reply) -> dict[str, Any]:
    """A reply as JSON data, without its candidates."""
    return {
        "v": _VERSION,
        "blocks": _blocks().dump_python(reply.blocks, mode="json"),
        "status": reply.status,
        "result": _results().dump_python(reply.result, mode="json"),
    }


def from_data(data: Mapping[str, Any]) -> Reply:
    """The reply that `to_data` wrote, whatever else stands beside it; or that was kept before there were blocks.

    Raises ValueError for a newer version, and for what is no reply."""
    version = data.get("v", 0)
    if version not in (0, _VERSION):
        raise ValueError(f"a reply of version {version!r}: written by a newer triagebot?")
    blocks = _blocks().validate_python(data["blocks"] if version else _blocks_of_version_0(data))
    return Reply(blocks, data["status"], _results().validate_python(data["result"]))


def _blocks_of_version_0(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Before there were blocks, a reply had its words as one text, a question, offers and a picture."""
    blocks: list[dict[str, Any]] = [{"is": "remark", "text": data["text"]}] if data["text"] else []
    if data["question"] is not None:
        blocks.append({"is": "question", **data["question"]})
    if data["offers"]:
        blocks.append({"is": "offers", "choices": data["offers"]})
    if data["picture"] is not None:
        blocks.append({"is": "picture", "id": data["picture"]})
    return blocks
