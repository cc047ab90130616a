"""A reply as the phone shows it: lines, split where they must be, and marked up.

Decided here and nowhere else (the rest in `channels.prose`):
- choices that a phone would cut off on a button are listed in the text, too;
- the buttons go under the last part.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from triagebot.channels.prose import Line, length_of, lines_of, prose
from triagebot.channels.prose import split as split_lines
from triagebot.channels.telegram.limits import MOST_CAPTION, MOST_TEXT, SEEN_ON_A_BUTTON
from triagebot.conversation import Reply
from triagebot.topics import Texts

#: Rows of buttons: each its label and what it carries.
Rows = tuple[tuple[tuple[str, str], ...], ...]


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
    lines = list(prose(reply))
    question = reply.question
    picture = reply.shows
    seen = lines_of(texts("in-the-picture", words=words), "i") if words else []
    if question is not None:
        lines += lines_of(question.text, "b")
    if question is not None and answered is None:
        labels = [_numbered(number, choice.label) for number, choice in enumerate(question.choices, 1)]
        if any(len(label) > SEEN_ON_A_BUTTON for label in labels):
            lines += lines_of("\n".join(labels))
    if answered:
        lines += lines_of(texts("answered-so", answer=answered), "i")
    buttons = () if answered is not None else _buttons(reply)
    if picture is not None and length_of([*lines, *seen], length) <= MOST_CAPTION:
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


def marked_up(lines: Sequence[Line]) -> str:
    """Lines as the platform's HTML."""
    written = []
    for place, line in enumerate(lines):
        head, text, linked = (escape(part, quote=False) for part in line.parts)
        if head:
            text = f"<b>{head}</b>{text}"
        if linked:
            text += f'<a href="{escape(line.url)}">{linked}</a>'
        if line.tag and line.text:
            text = f"<{line.tag}>{text}</{line.tag}>"
        written.append(("\n" if line.gap and place else "") + text)
    return "\n".join(written)


def split(lines: Sequence[Line], most: int) -> list[list[Line]]:
    """Parts of at most so many units. A part ends between paragraphs where that leaves it at least half full."""
    return split_lines(lines, most, length)
