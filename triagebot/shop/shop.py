"""A shop folder as one frozen value, and what the conversation asks of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from triagebot.shop.front_matter import ShopStep
from triagebot.shop.hours import Hours
from triagebot.shop.notes import Note, NoteLink, chosen_notes, note_link, spoken
from triagebot.shop.parts import PartsFile, ReplacementPart
from triagebot.shop.retention import kept_for
from triagebot.shop.schema import (
    CannedReply,
    Contact,
    MakersFile,
    NoteElsewhere,
    RepliesFile,
    Service,
    ServicesFile,
    ShopFile,
    Tool,
    ToolsFile,
)
from triagebot.shop.words import fold
from triagebot.topics import Learned

if TYPE_CHECKING:
    from triagebot.shop.search import NoteIndex


@dataclass(frozen=True, eq=False)
class Shop:
    """What one shop folder says. `digest` (SHA-256, hex) changes with any byte or name of any of its files.

    `systems` gives the system of each fastening of the topic that the shop was read for; empty without a topic.
    `elsewhere` is the table of links to what is described outside the folder; `learned`: what its closed cases taught.
    """

    folder: Path
    about: ShopFile
    tools_file: ToolsFile
    services_file: ServicesFile
    makers_file: MakersFile
    notes: tuple[Note, ...]
    systems: Mapping[str, str]
    digest: str
    elsewhere: Mapping[str, NoteElsewhere] = field(default_factory=dict)
    replies_file: RepliesFile = field(default_factory=RepliesFile)
    parts_file: PartsFile = field(default_factory=PartsFile)
    learned: Learned | None = None

    @property
    def name(self) -> str:
        return self.about.name

    @property
    def kind(self) -> str:
        return self.about.kind

    @property
    def language(self) -> str:
        return self.about.language

    @property
    def currency(self) -> str | None:
        return self.about.currency

    @cached_property
    def kept(self) -> Mapping[str, timedelta]:
        """For how long each kind of what is kept of people is kept, where that goes by days."""
        return MappingProxyType(kept_for(self.about.keep))

    @property
    def contact(self) -> Contact:
        return self.about.contact

    @property
    def zone(self) -> ZoneInfo:
        return self.hours.zone

    @cached_property
    def hours(self) -> Hours:
        closures = tuple(sorted((row.closure for row in self.about.closed), key=lambda c: (c.first, c.last)))
        return Hours(ZoneInfo(self.about.time_zone), self.about.hours.days, closures)

    @cached_property
    def tools(self) -> Mapping[str, Tool]:
        """The shop's tools by the topic's remover or accessory, in the order of the file."""
        return MappingProxyType({tool.tool: tool for tool in self.tools_file.tools})

    @property
    def services(self) -> tuple[Service, ...]:
        return self.services_file.services

    def parts_for(self, fastening: str, sprockets: int | None = None) -> tuple[ReplacementPart, ...]:
        """What replaces a fastening of the topic, in the order of the file; for so many sprockets, where that is
        known."""
        system = self.systems.get(fastening, fastening)
        return tuple(
            part
            for part in self.parts_file.parts
            if (fastening in part.fastenings or system in part.systems)
            and (sprockets is None or not part.sprockets or sprockets in part.sprockets)
        )

    @property
    def replies(self) -> tuple[CannedReply, ...]:
        return self.replies_file.replies

    @cached_property
    def makers(self) -> Mapping[str, str]:
        """Every spelling of a maker's name, folded (`fold`), and the choice of the marking question that it means."""
        return MappingProxyType(
            {
                fold(word): row.choice
                for row in self.makers_file.choices
                for maker in row.makers
                for word in (maker.name, *maker.also)
            }
        )

    @cached_property
    def maker_labels(self) -> Mapping[str, tuple[str, ...]]:
        """The makers' names as they are shown, by choice of the marking question."""
        return MappingProxyType({row.choice: tuple(m.name for m in row.makers) for row in self.makers_file.choices})

    @cached_property
    def choice_labels(self) -> Mapping[str, str]:
        """Each choice of the marking question in the shop's own few words."""
        return MappingProxyType({row.choice: row.label for row in self.makers_file.choices})

    @cached_property
    def note_index(self) -> "NoteIndex":
        """The notes' sections, ready to be searched; made when it is first asked for (some 0.2 s)."""
        from triagebot.shop.search import NoteIndex  # late: it needs the Markdown library

        return NoteIndex(self.notes, self.link_to)

    def link_to(self, note: Note, section: str | None = None) -> NoteLink:
        """Where a note, or one section of it, is read."""
        return note_link(note, self.about.notes_address, section, elsewhere=self.elsewhere)

    def read_at(self, address: str) -> "Shop":
        """The same shop whose notes are read at `address`, unless it has said itself where they are."""
        if self.about.notes_address is not None:
            return self
        return replace(self, about=self.about.model_copy(update={"notes_address": address}))

    def tool_for(self, tool: str) -> Tool | None:
        """The shop's tool for a remover or accessory of the topic; None where it has none."""
        return self.tools.get(tool)

    def services_for(self, what: str, *, damaged: bool = False) -> tuple[Service, ...]:
        """What the shop does about a fastening or a system, in the file's order; `damaged`: only what copes."""
        system = self.systems.get(what, what)
        return tuple(
            service
            for service in self.services
            if (what in service.fastenings or system in service.systems) and (service.damaged or not damaged)
        )


def steps_of_notes(shop: Shop, fastening: str, language: str) -> tuple[ShopStep, ...]:
    """The steps that the shop's notes about a fastening say in their own words or add, in this language."""
    notes = chosen_notes(shop.notes, fastening, {}, (language,))
    return tuple(step for note in notes if spoken(note, language) for step in note.head.steps)


def notes_for(
    shop: Shop,
    fastening: str | None,
    *,
    answers: Mapping[str, str] | None = None,
    language: str | None = None,
    section: str | None = None,
) -> tuple[NoteLink, ...]:
    """Where to read about a fastening, and about answers that were given (question: choice), best first, each once.

    A note's link leads to `section`, or else to the part that the note itself names for this fastening. A fastening
    that is described elsewhere and in no note here comes first.
    """
    languages = tuple(dict.fromkeys(filter(None, (language, shop.language))))
    links: list[NoteLink] = []
    chosen = chosen_notes(shop.notes, fastening, answers or {}, languages)
    unwritten = fastening is not None and not any(fastening in note.head.fastenings for note in chosen)
    if fastening is not None and unwritten and fastening in shop.elsewhere:
        link = shop.elsewhere[fastening]
        links.append(NoteLink(link.title or link.address, link.address))
    for place, note in enumerate(chosen):
        own = fastening if fastening in note.head.fastenings else None
        part = section or (note.head.sections.get(own) if own else None)
        address = shop.about.notes_address
        first = own if place == 0 else None
        links.append(note_link(note, address, part, elsewhere=shop.elsewhere, fastening=first))
    return tuple(dict.fromkeys(links))
