"""How blocks read: as lines of plain text, with what a channel marks up in them.

Rules of this file:
- `lines` says how a block reads, and which of it is a signal word, a link, an item of a list or a question: channels
  mark up what these lines say, and never look at letters;
- `_TOGETHER` says which neighbours stand without an empty line between them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from triagebot.conversation.blocks import (
    Advice,
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
    Question,
    Reach,
    Reasons,
    Remark,
    Services,
    Tool,
    WhatNext,
)
from triagebot.shop import NoteLink

#: Stands above and below what is to be sent on.
CUT = "– – – – –"
#: How an item of a list begins.
_ITEM = "– "


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
