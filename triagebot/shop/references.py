"""What a procedure note refers to: links, and pictures that it shows.

This file decides where a reference leads (by its words alone: the disk is not asked), and which kinds of
file, besides other notes, a note may hand out. A picture must lie in the shop folder: pages fetch nothing from others.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from os.path import normpath
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import SplitResult, unquote, urlsplit

from triagebot.shop.notes import Note

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.token import Token

#: Files that a note may show or hand out, by the end of their names, and what they are sent as.
PICTURES = {
    ".gif": "image/gif",
    ".jpeg": "image/jpeg",
    ".jpg": "image/jpeg",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".webp": "image/webp",
}
ENCLOSURES = {**PICTURES, ".pdf": "application/pdf"}
#: No file that a note shows or hands out is larger than this.
MOST_BYTES = 2_000_000


@dataclass(frozen=True, slots=True)
class Reference:
    """A link or picture in a note, on a line of the note's file; `parts` is None where the target is no address."""

    note: Note
    target: str
    line: int
    picture: bool
    parts: SplitResult | None

    @property
    def relative(self) -> bool:
        """Whether it leads to a file or a heading near the note, and not to the web, to mail or to the whole disk."""
        parts = self.parts
        return parts is not None and not parts.scheme and not parts.netloc and not parts.path.startswith("/")

    @property
    def file(self) -> Path:
        """Where a relative reference leads."""
        path = unquote(self.parts.path) if self.parts else ""
        return Path(normpath(self.note.path.parent / path if path else self.note.path))

    @property
    def anchor(self) -> str:
        return unquote(self.parts.fragment) if self.parts else ""


def reference(note: Note, target: str, line: int = 0, *, picture: bool = False) -> Reference:
    """A target as it stands in a note's Markdown."""
    try:
        parts = urlsplit(target)
    except ValueError:
        parts = None
    return Reference(note, target, line, picture, parts)


def references_of(note: Note) -> Iterable[Reference]:
    """Every link and picture of a note, in order."""
    for target, line, picture in _targets(note.body):
        yield reference(note, target, note.body_line + line, picture=picture)


@lru_cache(maxsize=256)
def _targets(body: str) -> tuple[tuple[str, int, bool], ...]:
    """What a note's Markdown refers to, the line of each, and whether it is a picture. Kept, since a note is asked for
    several times, and reading it is what takes long."""
    found: list[tuple[str, int, bool]] = []
    for token in markdown().parse(body):
        line = token.map[0] if token.map else 0
        for child in token.children or ():
            if child.type in ("softbreak", "hardbreak"):
                line += 1
            picture = child.type == "image"
            target = child.attrGet("src" if picture else "href")
            if target and (picture or child.type == "link_open"):
                found.append((str(target), line, picture))
    return tuple(found)


def markdown() -> "MarkdownIt":
    """How notes are read: CommonMark, with raw HTML as the text that it is."""
    from markdown_it import MarkdownIt  # late: no conversation needs it, and it is slow to import

    return MarkdownIt("commonmark", {"html": False})


def tokens_of(note: Note) -> "list[Token]":
    return markdown().parse(note.body)
