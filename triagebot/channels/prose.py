"""A reply as lines that a channel marks up in its own way, and splits where they must be.

Decided here and nowhere else:
- what is bold (the question, the signal words of warnings) and what is slanted (what a picture shows, what was
  answered);
- a long text is split between paragraphs, else between lines, else between words;
- a note is a link where it can be opened on a phone, and its title alone where it cannot.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from triagebot.conversation import Reply
from triagebot.shop import NoteLink

#: Where a file lies on the machine that we run on: nothing that a phone could open.
_FILE = re.compile(r"file:\S+")
#: What is left hanging at the end of a line whose link was taken away.
_HANGING = " \t:–—-("

#: How long a text is, in the units of a platform. A whole is as long as its characters together, none is longer than
#: some units, and none is shorter than one.
Length = Callable[[str], int]


@dataclass(frozen=True, slots=True)
class Line:
    """One line; `tag` is `b`, `i`, `li` or nothing. `gap`: an empty line stands above it. `url`: where `linked` leads;
    `written` is the line with that address in it. `head`: so many characters at its beginning are bold."""

    text: str
    tag: str = ""
    gap: bool = False
    linked: str = ""
    url: str = ""
    head: int = 0
    written: str = ""


def prose(reply: Reply) -> Iterator[Line]:
    """What is said before the question."""
    notes = {note.url: note for note in sorted(reply.notes, key=lambda note: -len(note.url))}
    for line in lines_of(reply.text):
        if _warns(line.text):
            yield replace(line, head=line.text.find(":") + 1)
        else:
            yield _linked(line, notes.values())


def lines_of(text: str, tag: str = "") -> list[Line]:
    """A text of paragraphs, every line of it with a tag."""
    found = []
    for paragraph in filter(None, text.split("\n\n")):
        found += [Line(line, tag, gap=not place) for place, line in enumerate(paragraph.split("\n"))]
    return found


def _warns(line: str) -> bool:
    """Whether a line begins with a signal word, which stands in capitals."""
    word = line.split(" ", 1)[0]
    return len(word) > 3 and word.isupper()


def _linked(line: Line, notes: Iterable[NoteLink]) -> Line:
    for note in notes:
        if note.url in line.text and note.url.startswith(("http://", "https://")) and note.title in line.text:
            bare = line.text.replace(note.url, "").rstrip(_HANGING)
            return replace(line, text=bare, linked=note.title, url=note.url, written=line.text)
    if _FILE.search(line.text):
        return replace(line, text=_FILE.sub("", line.text).rstrip(_HANGING))
    return line


def length_of(lines: Sequence[Line], length: Length) -> int:
    """Of lines with what stands between them."""
    gaps = sum(line.gap for line in lines[1:])
    return sum(length(line.text) for line in lines) + (max(0, len(lines) - 1) + gaps) * length("\n")


def split(lines: Sequence[Line], most: int, length: Length) -> list[list[Line]]:
    """Parts of at most so many units. A part ends between paragraphs where that leaves it at least half full."""
    parts: list[list[Line]] = []
    part: list[Line] = []
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


def _added(line: Line, length: Length) -> int:
    """By how many units a part grows when this line follows its others."""
    return length(line.text) + (2 if line.gap else 1) * length("\n")


def _last_gap(part: Sequence[Line]) -> int:
    return next((place for place in range(len(part) - 1, 0, -1) if part[place].gap), 0)


def _pieces(line: Line, most: int, length: Length) -> Iterator[Line]:
    """A line that is longer than a whole message is cut between words, or anywhere if there are none."""
    text, gap = line.text, line.gap
    while length(text[: most + 1]) > most:  # no more of it need be measured: a character is a unit at least
        cut = _fitting(text, most, length)
        space = text.rfind(" ", cut // 2, cut + 1)
        end = space if space > 0 else cut
        yield Line(text[:end].rstrip(), line.tag, gap, head=min(line.head, end))
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
