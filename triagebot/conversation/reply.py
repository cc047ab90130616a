"""What goes back to a person: frozen values that any channel can show, plain text first (contract C9)."""

from dataclasses import dataclass
from typing import Literal

from triagebot.shop import NoteLink

#: What stands above and below a text that is to be sent on.
CUT = "– – – – –"

Status = Literal["question", "answer", "look-alike", "person", "stopped"]


@dataclass(frozen=True, slots=True)
class Choice:
    """A listed answer: its id and its label."""

    id: str
    label: str


@dataclass(frozen=True, slots=True)
class Shown:
    """The open question as shown. `unit` is mm for a size; `picture` the id of what illustrates it; `aside` are the
    answers that every question has ("I don't know", "How do I check?")."""

    id: str
    kind: str
    text: str
    choices: tuple[Choice, ...]
    unit: str | None
    picture: str | None
    aside: tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Share:
    """A fastening that is still possible, its remover, and its probability."""

    fastening: str
    remover: str | None
    probability: float


@dataclass(frozen=True, slots=True)
class Result:
    """The outcome in ids, for machines: filled when the conversation has ended in an answer or a look-alike."""

    fastening: str | None = None
    remover: str | None = None
    cautions: tuple[str, ...] = ()
    notes: tuple[NoteLink, ...] = ()


@dataclass(frozen=True, slots=True)
class Reply:
    """One message to a person. `text` is prose and ends before the question, which `question` holds whole. `offers` may
    be said or pressed where no question is shown; `picture` is what illustrates the outcome that is told here; `links`
    are notes that the text names beside those of the outcome. `forward` is a text for somebody else, to be sent on as
    it is, and `shown_forward` the id of what illustrates it.

    `candidates` are all fastenings, likeliest first; their probabilities sum to 1. They are for machines and staff."""

    text: str
    status: Status
    question: Shown | None
    result: Result
    candidates: tuple[Share, ...]
    offers: tuple[Choice, ...] = ()
    picture: str | None = None
    links: tuple[NoteLink, ...] = ()
    forward: str = ""
    shown_forward: str | None = None

    @property
    def notes(self) -> tuple[NoteLink, ...]:
        """Every note to which this message may lead; no address stands before one that begins with it."""
        return tuple(sorted((*self.links, *self.result.notes), key=lambda note: -len(note.url)))

    @property
    def shows(self) -> str | None:
        """The id of what illustrates this message: its outcome, else its question."""
        return self.picture or (self.question.picture if self.question is not None else None)


def listed(reply: Reply) -> tuple[Choice, ...]:
    """The choices to list under the question: none where they stand in what is to be sent on."""
    return reply.question.choices if reply.question is not None and not reply.forward else ()


def plain(reply: Reply) -> str:
    """The whole message as plain text: prose, what is to be sent on, question, numbered choices, and what else may be
    typed. What is to be sent on has the choices already."""
    blocks = [reply.text] if reply.text else []
    if reply.forward:
        blocks.append(f"{CUT}\n{reply.forward}\n{CUT}")
    if reply.question is not None:
        lines = [reply.question.text]
        lines += [f"  {number}. {choice.label}" for number, choice in enumerate(listed(reply), 1)]
        aside = " · ".join(choice.label for choice in reply.question.aside)
        blocks.append("\n".join([*lines, f"  ({aside})"] if aside else lines))
    if reply.offers:
        blocks.append(f"  ({' · '.join(choice.label for choice in reply.offers)})")
    return "\n\n".join(blocks)
