"""Procedure notes: Markdown files with a head, in the shop folder's `notes/`.

Rules of this file:
- A note is a `.md` file that starts with a head between two lines of `---`. It is named in addresses by its `slug`,
  or else by its file's name. A section is a heading written with `#` signs; its name in addresses is the heading's
  letters and digits joined by hyphens, so it changes only when the heading does.
- Which notes a person is shown: those about the fastening, the one that is about the fewest first; then those about
  an answer that was given. In the person's language if the shop has them, else in the shop's own.
- Where a note is read: where the shop's table of links says, for the section before the fastening before the note;
  else below the shop's own address; else as a file.
- A note that is not read again within `review-months` of its review is overdue.
"""

import calendar
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from urllib.parse import quote

from triagebot.errors import DataError, Problem
from triagebot.shop.front_matter import FrontMatter
from triagebot.shop.frontmatter import split_note
from triagebot.shop.schema import NoteElsewhere
from triagebot.shop.words import fold
from triagebot.topics import Marks

_FENCE = re.compile(r" {0,3}(`{3,}|~{3,})")
_HEADING = re.compile(r" {0,3}(#{1,6})(?:[ \t]+(.*?))?(?:[ \t]+#+)?[ \t]*")


@dataclass(frozen=True, slots=True)
class Section:
    """A heading: its `slug` for addresses, its words, its depth (1 to 6) and its line in the file."""

    slug: str
    title: str
    depth: int
    line: int


@dataclass(frozen=True, slots=True)
class Note:
    """One procedure note. `file` is its path within the shop folder.

    `body` is the Markdown below the head, which begins on line `body_line` of the file.
    """

    slug: str
    path: Path
    file: str
    head: FrontMatter
    body: str
    body_line: int
    sections: tuple[Section, ...]

    @property
    def title(self) -> str:
        return self.head.title


@dataclass(frozen=True, slots=True)
class NoteLink:
    """A note as it is shown at the end of a conversation."""

    title: str
    url: str


def read_notes(folder: Path, problems: list[Problem]) -> tuple[tuple[Note, ...], dict[str, Marks]]:
    """All notes below `folder`, by path, and where their heads' values stand. Adds what is wrong to `problems`."""
    notes: list[Note] = []
    marks: dict[str, Marks] = {}
    for path in sorted(folder.rglob("*.md")):
        if not is_note(path, folder):
            continue
        try:
            note, head_marks = read_note(path, path.relative_to(folder.parent).as_posix())
            notes.append(note)
            marks[note.file] = head_marks
        except DataError as error:
            problems.extend(error.problems)
    return tuple(notes), marks


def is_note(file: Path, folder: Path) -> bool:
    """Whether a file is read as a note: a Markdown file below `folder` with no dot before any name on the way."""
    below = file.suffix == ".md" and file.is_relative_to(folder)
    return below and not any(part.startswith(".") for part in file.relative_to(folder).parts)


def read_note(path: Path, file: str) -> tuple[Note, Marks]:
    """One note. Raises DataError with the place of everything in its head that does not fit."""
    head, marks, body, body_line = split_note(path, FrontMatter)
    slug = head.slug or section_slug(path.stem)
    return Note(slug, path, file, head, body, body_line, sections_of(body, body_line)), marks


def section_slug(title: str) -> str:
    """A heading's name in addresses: "If it will not move" gives "if-it-will-not-move"."""
    return fold(title).replace(" ", "-")


def sections_of(body: str, first_line: int = 1) -> tuple[Section, ...]:
    """The headings of a Markdown text in order, without those inside fenced code."""
    found: list[Section] = []
    fence = ""
    for number, line in enumerate(body.split("\n"), first_line):
        mark = _FENCE.match(line)
        if fence:
            if mark and mark[1].startswith(fence) and not line.strip().strip(fence[0]):
                fence = ""
        elif mark:
            fence = mark[1]
        elif (heading := _HEADING.fullmatch(line)) and heading[2]:
            found.append(Section(section_slug(heading[2]), heading[2], len(heading[1]), number))
    return tuple(found)


def chosen_notes(
    notes: tuple[Note, ...],
    fastening: str | None,
    answers: Mapping[str, str],
    languages: tuple[str, ...],
) -> tuple[Note, ...]:
    """The notes that somebody with this fastening and these answers (question: choice) is shown, best first."""
    about = sorted((n for n in notes if fastening in n.head.fastenings), key=lambda n: (len(n.head.fastenings), n.slug))
    also = [
        n
        for n in notes
        if n not in about and any(answers.get(question) in choices for question, choices in n.head.answers.items())
    ]
    return (*_in_language(tuple(about), languages), *_in_language(tuple(also), languages))


def note_link(
    note: Note,
    address: str | None,
    section: str | None = None,
    *,
    elsewhere: Mapping[str, NoteElsewhere] | None = None,
    fastening: str | None = None,
) -> NoteLink:
    """Where a note is read: see above. `elsewhere` is the table of links, `fastening` what somebody has.

    `section` is left out where the note has none of that name, and for a file, which opens at its top.
    """
    part = section if section and section in {s.slug for s in note.sections} else None
    table = elsewhere or {}
    for signpost in (f"{note.slug}#{part}" if part else "", fastening or "", note.slug):
        if signpost in table:
            return NoteLink(table[signpost].title or note.title, table[signpost].address)
    if address is None:
        return NoteLink(note.title, note.path.resolve().as_uri())
    anchor = f"#{quote(part)}" if part else ""
    return NoteLink(note.title, f"{address.rstrip('/')}/{quote(note.slug)}{anchor}")


def spoken(note: Note, language: str) -> bool:
    """Whether a note is in a language, in whatever form of it: de-AT is German."""
    return base_language(note.head.language) == base_language(language)


def base_language(language: str) -> str:
    """A language without its script and country."""
    return language.split("-", maxsplit=1)[0]


def review_due(note: Note, months: int) -> date | None:
    """The last date on which the note's review still counts; None for a note that was never reviewed."""
    reviewed = note.head.reviewed_on
    if reviewed is None:
        return None
    year, month = divmod(reviewed.year * 12 + reviewed.month - 1 + months, 12)
    return date(year, month + 1, min(reviewed.day, calendar.monthrange(year, month + 1)[1]))


def _in_language(notes: tuple[Note, ...], languages: tuple[str, ...]) -> tuple[Note, ...]:
    for language in languages:
        own = tuple(note for note in notes if spoken(note, language))
        if own:
            return own
    return notes
