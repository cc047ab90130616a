"""A message of the delivery as the chat page shows it: paragraphs, lists, warnings in boxes, links, buttons.

Decided here and nowhere else:
- a line that begins with a signal word of the language is a box of that kind, as in the notes;
- the fastening and the remover that are named are bold; notes, web addresses, the shop's telephone and e-mail are
  links. A note that is a file here leads to its own page, at the part about what somebody has;
- what illustrates an outcome stands near its beginning, what illustrates a question right above it;
- buttons are those of the last message: what it offers, or the choices of its question.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from triagebot.conversation import Choice, Guide, Reply, plain
from triagebot.messages import Outgoing
from triagebot.pages.markdown import KINDS
from triagebot.pages.pictures import Drawing, drawing
from triagebot.pages.site import Reader
from triagebot.shop import NoteLink, note_link
from triagebot.topics import Texts

#: What a line of a list begins with, and what is left hanging where an address was taken away.
_ITEM = "– "
_HANGING = " \t:–—-("
_ADDRESS = re.compile(r"https?://[^\s<>\"]+[^\s<>\".,;:!?)]")


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a line; `href` is where it leads."""

    text: str
    href: str = ""
    bold: bool = False


Line = tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A paragraph (`p`), a `list`, or a box that warns, with its `head`."""

    kind: str
    lines: tuple[Line, ...]
    head: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    """The buttons under a message: choices, and those that every question has."""

    case: str
    turn: int
    choices: tuple[Choice, ...]
    aside: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """One message, ready to be shown. `number` is 0 for one that is kept nowhere; the drawing illustrates the `outcome`
    that is told, or else the question. `forward`: it is to be sent on. `photo` is where a photo that goes with it is
    seen, "" if none does."""

    number: int
    language: str
    blocks: tuple[Block, ...]
    question: str
    drawing: Drawing | None
    outcome: bool
    answers: Answers
    plain: str
    forward: bool = False
    photo: str = ""


def sheet(guide: Guide, reader: Reader, message: Outgoing) -> Sheet:
    """A message as the page shows it, in its own language."""
    reply = message.reply
    texts = guide.language(message.language).texts
    question = reply.question
    if question is not None:
        answers = Answers(message.case, message.turn, question.choices, question.aside)
    else:
        answers = Answers(message.case, message.turn, reply.offers)
    return Sheet(
        number=message.id,
        language=texts.language,
        blocks=blocks(guide, reader, reply, texts),
        question=question.text if question is not None else "",
        drawing=_drawing(guide, replace(reader, texts=texts), reply.shows) if reply.shows else None,
        outcome=reply.picture is not None,
        answers=answers,
        plain=plain(reply),
        forward=message.forward,
        photo=reader.to(f"/chat/photo/{message.id}") if message.photo is not None else "",
    )


def blocks(guide: Guide, reader: Reader, reply: Reply, texts: Texts) -> tuple[Block, ...]:
    """The prose of a reply."""
    heads = {texts(f"signal-{kind}"): kind for kind in KINDS}
    marked = _marked(guide, reader, reply, texts)
    found: list[Block] = []
    for paragraph in filter(None, reply.text.split("\n\n")):
        begun = len(found)
        for line in paragraph.split("\n"):
            signal = next((kind for word, kind in heads.items() if line.startswith((f"{word} ", f"{word}:"))), None)
            if signal is not None and ":" in line:
                head, _, text = line.partition(":")
                found.append(Block(signal, (marked(text.strip()),), head))
                continue
            kind, text = ("list", line.removeprefix(_ITEM)) if line.startswith(_ITEM) else ("p", line)
            if len(found) > begun and found[-1].kind == kind:
                found[-1] = Block(kind, (*found[-1].lines, marked(text)))
            else:
                found.append(Block(kind, (marked(text),)))
    return tuple(found)


def _marked(guide: Guide, reader: Reader, reply: Reply, texts: Texts) -> Callable[[str], Line]:
    """Makes lines of a reply into pieces."""
    contact = guide.shop.contact
    known = {}
    if contact.phone:
        known[contact.phone] = Piece(contact.phone, f"tel:{contact.phone.replace(' ', '')}")
    if contact.e_mail:
        known[contact.e_mail] = Piece(contact.e_mail, f"mailto:{contact.e_mail}")
    result = reply.result
    named = [f"fastening-{result.fastening}"] if result.fastening else []
    named += [f"remover-{result.remover}"] if result.remover else []
    known |= {name: Piece(name, bold=True) for name in map(texts, named)}
    notes = {note.url: note for note in sorted(reply.notes, key=lambda note: -len(note.url))}

    def marked(line: str) -> Line:
        own = dict(known)
        for url, note in notes.items():
            if url in line:
                bare = line.replace(url, "").rstrip(_HANGING)
                line = bare if note.title in bare else f"{bare} {note.title}"
                own[note.title] = Piece(note.title, _leads(guide, reader, reply, note))
        own |= {found: Piece(found, found) for found in _ADDRESS.findall(line)}
        return _pieces(line, own)

    return marked


def _pieces(line: str, known: Mapping[str, Piece]) -> Line:
    """A line cut where something known stands in it."""
    if not known:
        return (Piece(line),)
    longest_first = sorted(known, key=lambda words: -len(words))
    parts = re.split(f"({'|'.join(map(re.escape, longest_first))})", line)
    return tuple(known.get(part, Piece(part)) for part in parts if part)


def _leads(guide: Guide, reader: Reader, reply: Reply, link: NoteLink) -> str:
    """Where a note is read: a file of the shop folder on its own page here."""
    if not link.url.startswith("file:"):
        return link.url
    note = next((note for note in guide.shop.notes if note.path.resolve().as_uri() == link.url), None)
    if note is None:
        return ""
    part = note.head.sections.get(reply.result.fastening or "")
    return reader.to(note_link(note, "/notes", part).url)


def _drawing(guide: Guide, reader: Reader, name: str) -> Drawing | None:
    """None for a picture that the topic no longer has."""
    try:
        return drawing(guide.topic, reader, name)
    except KeyError:
        return None


def last_asking(sheets: Sequence[Sheet]) -> Sheet | None:
    """The last message, but for those that are to be sent on."""
    return next((each for each in reversed(sheets) if not each.forward), None)


def last_answers(sheets: Sequence[Sheet]) -> Answers | None:
    """The buttons that are to be shown: those of the last message, if it has any."""
    last = last_asking(sheets)
    answers = last.answers if last is not None else None
    return answers if answers is not None and (answers.choices or answers.aside) else None
