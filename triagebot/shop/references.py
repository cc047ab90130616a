"""What a procedure note refers to: links, and pictures that it shows.

This file decides where a reference leads (by its words alone: the disk is not asked), and which kinds of
file, besides other notes, a note may hand out. A picture must lie in the shop folder: pages fetch nothing from others.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from os.path import normpath
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple
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


#: What files of a kind begin with, in their first bytes.
_BEGINNINGS = {
    ".gif": (b"GIF87a", b"GIF89a"),
    ".jpeg": (b"\xff\xd8\xff",),
    ".jpg": (b"\xff\xd8\xff",),
    ".png": (b"\x89PNG\r\n\x1a\n",),
    ".webp": (b"RIFF",),
    ".pdf": (b"%PDF-",),
}
#: A tag or a comment of HTML as somebody would write one in a note; an address in <> is none.
_TAG = re.compile(r"</?[A-Za-z][A-Za-z0-9-]*(\s[^<>]*)?/?>|<!--.*")
_CODE = re.compile(r"(`+)(?!`).*?(?<!`)\1(?!`)")


def begins_as(file: Path) -> bool:
    """Whether a file begins as its name says that it does; an SVG must have its own element near its beginning."""
    with file.open("rb") as opened:
        begins = opened.read(2000)
    suffix = file.suffix.lower()
    return b"<svg" in begins if suffix == ".svg" else begins.startswith(_BEGINNINGS[suffix])


def html_of(body: str) -> Iterable[str]:
    """The first piece of HTML of each line of a note, "" where there is none; what stands in code is none."""
    code = {line for block, first, end in _read(body).blocks if block in _CODES for line in range(first, end)}
    for number, line in enumerate(body.splitlines()):
        found = None if number in code else _TAG.search(_CODE.sub("", line))
        yield found[0] if found is not None else ""


#: Blocks whose text is shown as it stands.
_CODES = ("fence", "code_block")


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
    for target, line, picture in _read(note.body).targets:
        yield reference(note, target, note.body_line + line, picture=picture)


def headings_of(note: Note) -> Iterable[int]:
    """The lines of the note's file on which Markdown sees a heading."""
    for block, first, _ in _read(note.body).blocks:
        if block == "heading_open":
            yield note.body_line + first


class _Markdown(NamedTuple):
    """What is asked of a note's Markdown. `targets`: what it refers to, the line of each, and whether it is a picture;
    `blocks`: headings and code, each with its first line and the one behind it."""

    targets: tuple[tuple[str, int, bool], ...]
    blocks: tuple[tuple[str, int, int], ...]


@lru_cache(maxsize=256)
def _read(body: str) -> _Markdown:
    """Kept, since a note is asked for several times, and reading it is what takes long."""
    targets: list[tuple[str, int, bool]] = []
    blocks: list[tuple[str, int, int]] = []
    for token in markdown().parse(body):
        line, end = token.map or (0, 0)
        if token.map and token.type in ("heading_open", *_CODES):
            blocks.append((token.type, line, end))
        for child in token.children or ():
            if child.type in ("softbreak", "hardbreak"):
                line += 1
            picture = child.type == "image"
            target = child.attrGet("src" if picture else "href")
            if target and (picture or child.type == "link_open"):
                targets.append((str(target), line, picture))
    return _Markdown(tuple(targets), tuple(blocks))


@cache
def markdown() -> "MarkdownIt":
    """How notes are read: CommonMark, with raw HTML as the text that it is. It keeps nothing of what it reads."""
    from markdown_it import MarkdownIt  # late: no conversation needs it, and it is slow to import

    return MarkdownIt("commonmark", {"html": False})


def tokens_of(note: Note) -> "list[Token]":
    return markdown().parse(note.body)
