"""A reply as lines that a channel marks up in its own way, and splits where they must be; and the pictures in it.

Rules of this file:
- what is bold (the question, the signal words of warnings) and what is slanted (what a picture shows, what was
  answered); what a line is, its block says;
- a long text is split between paragraphs, else between lines, else between words;
- a note is a link where it can be opened on a phone, and its title alone where it cannot;
- a picture is drawn when it is first asked for, uploaded once, never twice side by side, and named by the platform from
  then on.
"""

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from typing import TypeVar

from triagebot.conversation import Guide, Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.reply import Line, lines, lines_of
from triagebot.delivery import Delivery
from triagebot.pictures import picture, png_elsewhere
from triagebot.topics import Texts

#: How long a text is, in the units of a platform. A whole is as long as its characters together, none is longer than
#: some units, and none is shorter than one.
Length = Callable[[str], int]


@dataclass(frozen=True, slots=True)
class MarkedLine:
    """One line; `tag` is `b`, `i`, `li` or nothing. `gap`: an empty line stands above it. `url` is where `linked`
    leads, with which the line ends; `written` is the line with that address in it. `head`: so many characters at its
    beginning are bold."""

    text: str
    tag: str = ""
    gap: bool = False
    linked: str = ""
    url: str = ""
    head: int = 0
    written: str = ""

    @property
    def parts(self) -> tuple[str, str, str]:
        """What is bold at its beginning, what follows, and what leads somewhere at its end."""
        end = len(self.text) - len(self.linked)
        return self.text[: self.head], self.text[self.head : end], self.text[end:]


def prose(reply: Reply) -> Iterator[MarkedLine]:
    """What is said before the question."""
    return _shown(lines_of(reply.said))


def marked(text: str, tag: str = "") -> list[MarkedLine]:
    """A text of paragraphs, every line of it with a tag."""
    return list(_shown(lines(Remark(text)), tag))


def _shown(rows: Iterable[Line], tag: str = "") -> Iterator[MarkedLine]:
    for place, row in enumerate(rows):
        line = MarkedLine(f"{row.item}{row.text}", tag, row.gap or not place, head=row.head)
        if row.link is not None and row.link.url.startswith(("http://", "https://")):
            line = replace(line, linked=row.link.title, url=row.link.url, written=row.plain)
        yield line


def length_of(lines: Sequence[MarkedLine], length: Length) -> int:
    """Of lines with what stands between them."""
    gaps = sum(line.gap for line in lines[1:])
    return sum(length(line.text) for line in lines) + (max(0, len(lines) - 1) + gaps) * length("\n")


def split(lines: Sequence[MarkedLine], most: int, length: Length) -> list[list[MarkedLine]]:
    """Parts of at most so many units. A part ends between paragraphs where that leaves it at least half full."""
    parts: list[list[MarkedLine]] = []
    part: list[MarkedLine] = []
    long = 0  # units of `part`
    for line in (piece for whole in lines for piece in _pieces(whole, most, length)):
        while part and long + _added(line, length) > most:
            end = len(part) if line.gap else _last_gap(part)
            keep = end if end and length_of(part[:end], length) * 2 >= most else len(part)
            parts.append(part[:keep])
            part = part[keep:]
            long = length_of(part, length)
        long += _added(line, length) if part else length(line.text)
        part.append(line)
    return [*parts, part] if part else parts


def _added(line: MarkedLine, length: Length) -> int:
    """By how many units a part grows when this line follows its others."""
    return length(line.text) + (2 if line.gap else 1) * length("\n")


def _last_gap(part: Sequence[MarkedLine]) -> int:
    return next((place for place in range(len(part) - 1, 0, -1) if part[place].gap), 0)


def _pieces(line: MarkedLine, most: int, length: Length) -> Iterator[MarkedLine]:
    """A line that is longer than a whole message is cut between words, or anywhere if there are none."""
    text, gap = line.text, line.gap
    while length(text[: most + 1]) > most:  # no more of it need be measured: a character is a unit at least
        cut = _fitting(text, most, length)
        space = text.rfind(" ", cut // 2, cut + 1)
        end = space if space > 0 else cut
        yield MarkedLine(text[:end].rstrip(), line.tag, gap, head=min(line.head, end))
        text, gap, line = text[end:].lstrip(), False, replace(line, head=0, linked="", url="", written="")
    yield replace(line, text=text, gap=gap)


def _fitting(text: str, most: int, length: Length) -> int:
    """How many characters fit into so many units."""
    units = 0
    for place, character in enumerate(text):
        units += length(character)
        if units > most:
            return place
    return len(text)


#: Pixels: sharp on a phone, and some 60 kB.
WIDTH = 1000

T = TypeVar("T")


class UnknownName(Exception):  # noqa: N818 - says what the platform says
    """The platform does not know the name of a picture any more, so it has to be uploaded anew."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture before it is rendered: the same in words, and the digest of what is drawn."""

    words: str
    digest: str


@dataclass(slots=True)
class Gallery:
    """The pictures of one channel, in every language. Used in one event loop only."""

    guide: Guide
    delivery: Delivery
    channel: str
    _drawings: dict[tuple[str, str], Drawing] = field(default_factory=dict)
    _names: dict[str, str] = field(default_factory=dict)
    _uploading: dict[str, asyncio.Lock] = field(default_factory=dict)

    async def drawing(self, name: str, texts: Texts) -> Drawing:
        """Raises KeyError for a name that is none."""
        which = (name, texts.language)
        if which not in self._drawings:
            drawn = await asyncio.to_thread(picture, self.guide.topic, name, texts)
            self._drawings[which] = Drawing(drawn.alt, sha256(drawn.svg.encode()).hexdigest())
        return self._drawings[which]

    async def rendered(self, name: str, texts: Texts) -> bytes:
        """As PNG."""
        return await asyncio.to_thread(lambda: png_elsewhere(picture(self.guide.topic, name, texts), WIDTH))

    async def send(
        self, name: str, texts: Texts, post: Callable[[str | bytes], Awaitable[tuple[T, str]]], shelf: str = ""
    ) -> T:
        """Has `post` send the picture by its name if the platform has it, else its bytes; it gives what came of it,
        and the picture's name, or raises UnknownName. Pictures of different shelves have different names."""
        digest = (await self.drawing(name, texts)).digest + shelf
        uploading = self._uploading.setdefault(digest, asyncio.Lock())
        unknown: str | None = None
        while True:
            async with uploading:
                known = self._names.get(digest) or await self.delivery.picture(self.channel, digest)
                if known is None or known == unknown:
                    return await self._upload(name, texts, digest, post)
            try:
                sent, self._names[digest] = await post(known)
            except UnknownName:
                unknown = known
            else:
                return sent

    async def _upload(
        self, name: str, texts: Texts, digest: str, post: Callable[[str | bytes], Awaitable[tuple[T, str]]]
    ) -> T:
        sent, named = await post(await self.rendered(name, texts))
        self._names[digest] = named
        await self.delivery.uploaded(self.channel, digest, named)
        return sent
