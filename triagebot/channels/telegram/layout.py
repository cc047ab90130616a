"""A reply as the phone shows it: lines, split where they must be, and marked up.

Decided here and nowhere else:
- what is bold (the question, the signal words of warnings) and what is slanted (what a picture shows, what was
  answered);
- choices that a phone would cut off on a button are listed in the text, too;
- a long text is split between paragraphs, else between lines, else between words; the buttons go under the last part;
- a note is a link where it can be opened on a phone, and its title alone where it cannot.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape

from triagebot.channels.telegram.buttons import Rows
from triagebot.channels.telegram.limits import MOST_CAPTION, MOST_TEXT, SEEN_ON_A_BUTTON
from triagebot.conversation import Reply
from triagebot.shop import NoteLink
from triagebot.topics import Texts

#: Where a file lies on the machine that we run on: nothing that a phone could open.
_FILE = re.compile(r"file:\S+")
#: What is left hanging at the end of a line whose link was taken away.
_HANGING = " \t:–—-("


@dataclass(frozen=True, slots=True)
class Line:
    """One line; `tag` is `b`, `i` or nothing. `gap`: an empty line stands above it. `url`: where `linked` leads.
    `head`: so many characters at its beginning are bold."""

    text: str
    tag: str = ""
    gap: bool = False
    linked: str = ""
    url: str = ""
    head: int = 0


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is sent for one reply: a picture or none, its caption, texts after it. The last of all has the buttons.

    A `caption` is None where there is no picture; it only says what that shows where the words would not fit below."""

    picture: str | None
    caption: str | None
    texts: tuple[str, ...]
    buttons: Rows = ()


def length(text: str) -> int:
    """In UTF-16 units, which is how the platform counts."""
    return len(text) if text.isascii() else len(text.encode("utf-16-le")) // 2


def sheet(reply: Reply, texts: Texts, words: str = "", answered: str | None = None) -> Sheet:
    """What is to be sent; or, with `answered`, what it is changed to: no buttons, and what was answered ("": nothing).

    `words` say what its picture shows; `buttons` are rows of (label, choice)."""
    lines = list(_prose(reply))
    question = reply.question
    picture = reply.shows
    seen = _lines(texts("telegram-picture", words=words), "i") if words else []
    if question is not None:
        lines += _lines(question.text, "b")
    if question is not None and answered is None:
        labels = [_numbered(number, choice.label) for number, choice in enumerate(question.choices, 1)]
        if any(len(label) > SEEN_ON_A_BUTTON for label in labels):
            lines += _lines("\n".join(labels))
    if answered:
        lines += _lines(texts("telegram-answered", answer=answered), "i")
    buttons = () if answered is not None else _buttons(reply)
    if picture is not None and _length([*lines, *seen]) <= MOST_CAPTION:
        return Sheet(picture, marked_up([*lines, *seen]), (), buttons)
    parts = tuple(marked_up(part) for part in split(lines, MOST_TEXT))
    return Sheet(picture, None if picture is None else marked_up(seen), parts, buttons)


def _numbered(number: int, label: str) -> str:
    return f"{number}. {label}"


def _buttons(reply: Reply) -> Rows:
    """Each choice across the whole width; the two that every question has side by side, and "back" below. Where no
    question is shown, what is offered, one below the other."""
    question = reply.question
    if question is None:
        return tuple(((choice.label, choice.id),) for choice in reply.offers)
    rows = [((_numbered(n, choice.label), choice.id),) for n, choice in enumerate(question.choices, 1)]
    beside = tuple((choice.label, choice.id) for choice in question.aside)
    return (*rows, *(row for row in (beside[:2], beside[2:]) if row))


# --- lines --------------------------------------------------------------------------------------------------------


def _prose(reply: Reply) -> Iterator[Line]:
    notes = {note.url: note for note in reply.result.notes}
    for line in _lines(reply.text):
        if _warns(line.text):
            yield replace(line, head=line.text.find(":") + 1)
        else:
            yield _linked(line, notes.values())


def _lines(text: str, tag: str = "") -> list[Line]:
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
            return replace(line, text=bare, linked=note.title, url=note.url)
    if _FILE.search(line.text):
        return replace(line, text=_FILE.sub("", line.text).rstrip(_HANGING))
    return line


def marked_up(lines: Sequence[Line]) -> str:
    """Lines as the platform's HTML."""
    written = []
    for place, line in enumerate(lines):
        text = escape(line.text, quote=False)
        if line.url:
            linked = escape(line.linked, quote=False)
            text = text.replace(linked, f'<a href="{escape(line.url)}">{linked}</a>', 1)
        if line.head:
            text = f"<b>{escape(line.text[: line.head], quote=False)}</b>{escape(line.text[line.head :], quote=False)}"
        if line.tag and line.text:
            text = f"<{line.tag}>{text}</{line.tag}>"
        written.append(("\n" if line.gap and place else "") + text)
    return "\n".join(written)


def _length(lines: Sequence[Line]) -> int:
    gaps = sum(line.gap for line in lines[1:])
    return sum(length(line.text) for line in lines) + max(0, len(lines) - 1) + gaps


# --- splitting ----------------------------------------------------------------------------------------------------


def split(lines: Sequence[Line], most: int) -> list[list[Line]]:
    """Parts of at most so many units. A part ends between paragraphs where that leaves it at least half full."""
    parts: list[list[Line]] = []
    part: list[Line] = []
    long = 0  # units of `part`
    for line in (piece for whole in lines for piece in _pieces(whole, most)):
        while part and long + _added(line) > most:
            end = len(part) if line.gap else _last_gap(part)
            keep = end if end and _length(part[:end]) * 2 >= most else len(part)
            parts.append(part[:keep])
            part = part[keep:]
            long = _length(part)
        long += _added(line) if part else length(line.text)
        part.append(line)
    return [*parts, part] if part else parts


def _added(line: Line) -> int:
    """By how many units a part grows when this line follows its others."""
    return length(line.text) + (2 if line.gap else 1)


def _last_gap(part: Sequence[Line]) -> int:
    return next((place for place in range(len(part) - 1, 0, -1) if part[place].gap), 0)


def _pieces(line: Line, most: int) -> Iterator[Line]:
    """A line that is longer than a whole message is cut between words, or anywhere if there are none."""
    text, gap = line.text, line.gap
    while length(text[: most + 1]) > most:  # no more of it need be measured: a character is a unit or two
        cut = _fitting(text, most)
        space = text.rfind(" ", cut // 2, cut + 1)
        end = space if space > 0 else cut
        yield Line(text[:end].rstrip(), line.tag, gap, head=min(line.head, end))
        text, gap, line = text[end:].lstrip(), False, replace(line, head=0)
    yield replace(line, text=text, gap=gap)


def _fitting(text: str, most: int) -> int:
    """How many characters fit into so many units."""
    units = 0
    for place, character in enumerate(text):
        units += 2 if ord(character) > 0xFFFF else 1
        if units > most:
            return place
    return len(text)
