"""A message of the delivery as the chat page shows it: paragraphs, lists, warnings in boxes, links, buttons.

Rules of this file:
- a warning is a box of its kind, as in the notes;
- the fastening that is found and its remover are bold; a note is a link, and one that is a file here leads to its own
  page, at the part about what somebody has; web addresses, the shop's telephone and e-mail are links wherever they
  stand, as on a phone;
- what illustrates an outcome stands below its words, which are read first; what illustrates a question right above it;
- buttons are those of the last message: what it offers, or the choices of its question. They stand right above the
  line to write in and keep their place there, but for those under an outcome, which needs the room to be read.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from triagebot.conversation import Choice, Guide, Reply, plain
from triagebot.conversation.blocks import Block as Said
from triagebot.conversation.blocks import Finding, Hazard, Question, Tool
from triagebot.conversation.reply import by_block
from triagebot.messages import Outgoing
from triagebot.pages.links import Line, Piece, contacts, pieces_of
from triagebot.pages.pictures import Drawing, drawing
from triagebot.pages.site import Reader
from triagebot.shop import NoteLink, note_link
from triagebot.topics import Texts

#: The kind of a question whose answer is counted.
COUNT = "count"
#: So many letters has a label of which two stand side by side on a phone.
PAIR = 14
#: So many buttons of what is offered stand one below the other; of more, all but the first stand beside each other.
MOST_BELOW = 3


@dataclass(frozen=True, slots=True)
class Block:
    """A paragraph (`p`), a `list`, or a box that warns, with its `head`."""

    kind: str
    lines: tuple[Line, ...]
    head: str = ""


@dataclass(frozen=True, slots=True)
class Stepper:
    """What counts along: from nothing up to `most`."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Answers:
    """The buttons under a message: choices, and those that every question has. `numbered`: a choice's number may be
    typed, so it is shown. `beside`: they keep their place on the screen while what was said is read."""

    case: str
    turn: int
    choices: tuple[Choice, ...]
    aside: tuple[Choice, ...] = ()
    stepper: Stepper | None = None
    numbered: bool = False
    beside: bool = True

    @property
    def layout(self) -> str:
        """How the choices stand: small `numbers` in a row, `pairs`, or `rows`."""
        if all(choice.label.isdigit() for choice in self.choices):
            return "numbers"
        return "pairs" if all(len(choice.label) <= PAIR for choice in self.choices) else "rows"


@dataclass(frozen=True, slots=True)
class Sheet:
    """One message, ready to be shown. `number` is 0 for one that is kept nowhere; the drawing illustrates the `outcome`
    that is told, or else the question. `forward`: it is to be sent on. `photos` are where those that go with it are
    seen. `mine` are the words that it answers, "" where the page's script keeps them."""

    number: int
    language: str
    blocks: tuple[Block, ...]
    question: str
    drawing: Drawing | None
    outcome: bool
    answers: Answers
    plain: str
    forward: bool = False
    photos: tuple[str, ...] = ()
    mine: str = ""


def sheet(guide: Guide, reader: Reader, message: Outgoing) -> Sheet:
    """A message as the page shows it, in its own language."""
    reply = message.reply
    texts = guide.language(message.language).texts
    question = reply.question
    beside = not reply.of(Finding)
    if question is not None:
        counted = _stepper(guide, question)
        numbered = question.kind != COUNT
        answers = Answers(message.case, message.turn, question.choices, question.aside, counted, numbered, beside)
    else:
        below = len(reply.offers) if len(reply.offers) <= MOST_BELOW else 1
        first, more = reply.offers[:below], reply.offers[below:]
        answers = Answers(message.case, message.turn, first, more, beside=beside and not more)
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
        photos=tuple(reader.to(f"/chat/photo/{message.id}/{place}") for place in range(len(message.photos))),
        mine=message.words,
    )


def _stepper(guide: Guide, question: Question) -> Stepper | None:
    """None for what is not counted, and for a question that the topic no longer has."""
    known = guide.topic.questions.get(question.id)
    if question.kind != COUNT or known is None:
        return None
    return Stepper(known.least, known.most)


def blocks(guide: Guide, reader: Reader, reply: Reply, texts: Texts) -> tuple[Block, ...]:
    """The prose of a reply."""
    reached = contacts(guide)
    found: list[Block] = []
    for said, line in by_block(reply.said):
        if isinstance(said, Hazard):
            head = f"{said.word} ({said.step})" if said.step else said.word
            found.append(Block(said.signal, (pieces_of(said.text, reached),), head))
            continue
        if line.link is None:
            pieces = pieces_of(line.text, reached | _bold(said, texts))
        else:
            lead = line.text.removesuffix(line.link.title)
            pieces = (*pieces_of(lead, reached), Piece(line.link.title, _leads(guide, reader, reply, line.link)))
        kind = "list" if line.item else "p"
        if found and not line.gap and found[-1].kind == kind:
            found[-1] = Block(kind, (*found[-1].lines, pieces))
        else:
            found.append(Block(kind, (pieces,)))
    return tuple(found)


def _bold(said: Said, texts: Texts) -> dict[str, Piece]:
    """The words that are bold in a block: the fastening that is found, the remover."""
    match said:
        case Finding(fastenings=ids):
            names = [f"fastening-{each}{part}" for each in ids for part in ("", ".glance", ".short")]
        case Tool(remover=each):
            names = [f"remover-{each}"]
        case _:
            names = []
    return {texts(name): Piece(texts(name), bold=True) for name in names if texts.has(name)}


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
