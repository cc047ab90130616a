"""A note's sections with their paragraphs in plain text, as search reads them."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from triagebot.shop.notes import Note, Section
from triagebot.shop.references import tokens_of

if TYPE_CHECKING:
    from markdown_it.token import Token

#: Marks in an excerpt: private characters, which are taken out of the notes' own text.
OPEN, CLOSE = "\ue000", "\ue001"


def paragraphs_of(note: Note) -> Iterator[tuple[Section | None, list[str]]]:
    """Each section of a note with the paragraphs below it, in plain text; None for what stands before the first one."""
    sections = {section.line: section for section in note.sections}
    current: Section | None = None
    parts: list[str] = []
    tokens = iter(tokens_of(note))
    for token in tokens:
        if token.type == "heading_open" and token.map and note.body_line + token.map[0] in sections:
            if current is not None or parts:
                yield current, parts
            current, parts = sections[note.body_line + token.map[0]], []
            next(tokens)
        elif token.type in ("inline", "fence", "code_block"):
            parts.append(_plain(token.content) if token.children is None else _words_in(token.children))
    if current is not None or parts:
        yield current, parts


def _words_in(children: "Iterable[Token]") -> str:
    return _plain("".join(" " if child.type in ("softbreak", "hardbreak") else child.content for child in children))


def _plain(text: str) -> str:
    return " ".join(text.replace(OPEN, " ").replace(CLOSE, " ").split())
