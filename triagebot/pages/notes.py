"""The procedure notes: a list of them, each at its own address, and search.

This file decides the addresses (/notes/, /notes/<slug>, a section as #<its slug>, files that a note shows
or hands out at /notes/<slug>/<n>/<name>), the order of the list (by families, in that of the catalogue, then by title)
and what a note begins with (`glance.py`). A note's text does not change while the app runs, so its HTML is made once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from os.path import normpath
from pathlib import Path
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from triagebot.pages.glance import Glance, glances
from triagebot.pages.headers import ALONE
from triagebot.pages.markdown import KINDS, html_of
from triagebot.pages.pictures import Drawing, drawing
from triagebot.pages.site import AN_HOUR, CHECKED, NavEntry, Part, Reader, Site, answer, digest, threaded
from triagebot.pictures import drawable
from triagebot.shop import (
    ENCLOSURES,
    MOST_BYTES,
    PICTURES,
    Hit,
    Note,
    Reference,
    note_link,
    references_of,
    review_due,
    spoken,
)

#: So many letters of what somebody looks for are taken.
MOST_LETTERS = 200
#: Pages that are kept ready: notes, times languages, times whether a language was chosen.
KEPT = 256


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A file that a note shows or hands out, at an address below the note's own."""

    file: Path
    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class Review:
    """When a note was last checked and by whom, and since when that counts no more; None: never, or it still counts."""

    on: str | None
    by: str | None
    overdue: bool
    due: str | None


@dataclass(frozen=True, slots=True)
class Entry:
    """A note in the list: what it is about, drawn (None for a note about no one fastening)."""

    note: Note
    drawing: Drawing | None


class Book:
    """All notes of the shop, ready to be shown."""

    def __init__(self, site: Site) -> None:
        self.site = site
        shop = site.guide.shop
        self.notes = {note.slug: note for note in shop.notes}
        self.signals = {
            language.texts(f"signal-{kind}"): kind for language in site.guide.spoken.values() for kind in KINDS
        }
        self._files = {Path(normpath(note.path)): note for note in shop.notes}
        self.enclosures = {(note.slug, n): e for note in shop.notes for n, e in self._enclosures_of(note)}
        self._numbers = {(slug, e.file): n for (slug, n), e in self.enclosures.items()}

    @cached_property
    def ordered(self) -> tuple[Note, ...]:
        """The notes in the order of the catalogue, those about nothing in it at the end."""
        ranks = {fastening: place for place, fastening in enumerate(self.site.guide.topic.fastenings)}

        def rank(note: Note) -> tuple[int, str]:
            return min((ranks[f] for f in note.head.fastenings if f in ranks), default=len(ranks)), note.title

        return tuple(sorted(self.notes.values(), key=rank))

    def listed(self, reader: Reader) -> tuple[list[Note], list[Note]]:
        """The notes in the reader's language (or the shop's, if there are none), and all the others."""
        for language in (reader.language, self.site.guide.shop.language):
            own = [note for note in self.ordered if spoken(note, language)]
            if own:
                return own, [note for note in self.ordered if note not in own]
        return list(self.ordered), []

    def families(self, notes: Sequence[Note], reader: Reader) -> dict[str, list[Entry]]:
        """Notes by the kind of what they are about, as the topic calls it; those about no one kind come last."""
        found: dict[str, list[Entry]] = {}
        for note in sorted(notes, key=lambda note: not self._family(note, reader)):
            heading = self._family(note, reader) or reader.texts("page-notes-general")
            found.setdefault(heading, []).append(Entry(note, self._drawn(note, reader)))
        return found

    def _family(self, note: Note, reader: Reader) -> str:
        """A fastening's id begins with its family. "" for a note about several of them, or none."""
        families = {name.partition("-")[0] for name in note.head.fastenings if name in self.site.guide.topic.fastenings}
        name = f"family-{next(iter(families))}" if len(families) == 1 else ""
        return reader.texts(name) if reader.texts.has(name) else ""

    def _drawn(self, note: Note, reader: Reader) -> Drawing | None:
        topic = self.site.guide.topic
        name = next((name for name in note.head.fastenings if name in topic.fastenings), None)
        if name is None or not self._family(note, reader) or not drawable(topic, name):
            return None
        return drawing(topic, reader, f"fitting:{name}")

    def html(self, note: Note, reader: Reader) -> str:
        """A note's text; its links keep the language that the reader chose."""
        return html_of(note, self.signals, lambda found: self._leads(found, reader))

    def review(self, note: Note, reader: Reader) -> Review:
        due = review_due(note, self.site.guide.shop.about.review_months)
        on = note.head.reviewed_on
        return Review(
            on=reader.day(on) if on else None,
            by=note.head.reviewed_by,
            overdue=due is None or due < self.site.today,
            due=reader.day(due) if due else None,
        )

    def siblings(self, note: Note) -> list[Note]:
        """The same in other languages: notes about the same fastenings or answers."""
        head = note.head
        same = [n for n in self.ordered if (n.head.fastenings, n.head.answers) == (head.fastenings, head.answers)]
        return [n for n in same if n.head.language != head.language] if head.fastenings or head.answers else []

    def _leads(self, found: Reference, reader: Reader) -> str | None:
        if not found.relative:
            parts = found.parts
            return found.target if parts is not None and parts.scheme and not found.picture else None
        if found.file in self._files and not found.picture:
            note = self._files[found.file]
            anchor = f"#{quote(found.anchor)}" if found.anchor else ""
            return anchor if anchor and note is found.note else reader.to(f"/notes/{quote(note.slug)}{anchor}")
        number = self._numbers.get((found.note.slug, found.file))
        if number is None:
            return None
        return f"{reader.root}/notes/{quote(found.note.slug)}/{number}/{quote(found.file.name)}"

    def _enclosures_of(self, note: Note) -> list[tuple[int, Enclosure]]:
        """The files that a note refers to, of a kind and size that are sent, and inside the shop folder in truth, too:
        no link of the disk leads out of it."""
        home = self.site.guide.shop.folder.resolve()
        found: list[tuple[int, Enclosure]] = []
        for number, link in enumerate(references_of(note)):
            kind = (PICTURES if link.picture else ENCLOSURES).get(link.file.suffix.lower())
            if not link.relative or kind is None or "\0" in str(link.file):
                continue
            try:
                real = link.file.resolve()
                if real.is_relative_to(home) and real.is_file() and real.stat().st_size <= MOST_BYTES:
                    found.append((number, Enclosure(link.file, link.file.name, kind)))
            except OSError:
                continue
        return found


@dataclass(frozen=True, slots=True)
class Found:
    """A section that search found, as the page shows it."""

    note: Note
    title: str
    section: str | None
    address: str
    excerpt: tuple[str, ...]


def part(site: Site) -> Part:
    book = Book(site)
    index = site.guide.shop.note_index  # made now, not when the first reader waits for it

    @lru_cache(maxsize=KEPT)
    def page_of(slug: str, reader: Reader, today: str) -> tuple[bytes, str]:
        """A note's whole page and its mark. `today` because a review grows old."""
        note = book.notes[slug]
        seen: tuple[Glance, ...] = glances(site.guide, reader, note)
        body = site.render(
            reader,
            "note.html",
            here="/notes/",
            note=note,
            html=book.html(note, reader),
            glances=seen,
            review=book.review(note, reader),
            siblings=book.siblings(note),
            elsewhere=site.guide.shop.elsewhere.get(slug),
        )
        return body, digest(body)[:24]

    async def note(request: Request) -> Response:
        slug = request.path_params["slug"]
        if slug not in book.notes:
            raise HTTPException(404)
        body, mark = page_of(slug, site.reader(request), site.today.isoformat())
        return answer(request, body, keep=CHECKED, mark=mark, vary=True)

    def notes(request: Request) -> Response:
        reader = site.reader(request)
        words = request.query_params.get("q", "")[:MOST_LETTERS].strip()
        hits = index.search(words, reader.language) if words else ()
        found = tuple(_shown(hit, reader) for hit in hits)
        own, others = book.listed(reader)
        families = book.families(own, reader)
        return site.page(
            request, "notes.html", here="/notes/", words=words, found=found, families=families, others=others
        )

    def enclosure(request: Request) -> Response:
        found = book.enclosures.get((request.path_params["slug"], request.path_params["number"]))
        if found is None or request.path_params["name"] != found.name:
            raise HTTPException(404)
        try:
            content = found.file.read_bytes()
        except OSError:
            raise HTTPException(404) from None
        return answer(request, content, found.kind, keep=AN_HOUR, headers={"content-security-policy": ALONE})

    async def to_the_list(request: Request) -> Response:
        return RedirectResponse(site.reader(request).to("/notes/"), 308)

    routes = (
        Route("/notes", to_the_list),
        threaded("/notes/", notes),
        Route("/notes/{slug}", note),
        threaded("/notes/{slug}/{number:int}/{name}", enclosure),
    )
    return Part(routes, (NavEntry("page-nav-notes", "/notes/"),))


def _shown(hit: Hit, reader: Reader) -> Found:
    slug, title = (hit.section.slug, hit.section.title) if hit.section else (None, None)
    address = reader.to(note_link(hit.note, "/notes", slug).url)
    return Found(hit.note, hit.note.title, title, address, hit.excerpt)
