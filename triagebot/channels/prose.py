"""A reply as lines that a channel marks up in its own way, and splits where they must be.

Rules of this file:
- what is bold (the question, the signal words of warnings) and what is slanted (what a picture shows, what was
  answered); what a line is, its block says;
- a long text is split between paragraphs, else between lines, else between words;
- a note is a link where it can be opened on a phone, and its title alone where it cannot.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from triagebot.conversation import Reply
from triagebot.conversation.blocks import Remark
from triagebot.conversation.reply import Line, lines, lines_of

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
