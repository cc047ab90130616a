"""A shop folder as one frozen value, and what the conversation asks of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo

from triagebot.shop.hours import Hours
from triagebot.shop.notes import Note, NoteLink, chosen_notes, note_link
from triagebot.shop.schema import Contact, MakersFile, Service, ServicesFile, ShopFile, Tool, ToolsFile
from triagebot.shop.words import fold


@dataclass(frozen=True, eq=False)
class Shop:
    """What one shop folder says. `digest` (SHA-256, hex) changes with any byte or name of any of its files.

    `systems` gives the system of each fastening of the topic that the shop was read for; empty without a topic.
    """

    folder: Path
    about: ShopFile
    tools_file: ToolsFile
    services_file: ServicesFile
    makers_file: MakersFile
    notes: tuple[Note, ...]
    systems: Mapping[str, str]
    digest: str

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


def notes_for(
    shop: Shop,
    fastening: str | None,
    *,
    answers: Mapping[str, str] | None = None,
    language: str | None = None,
    section: str | None = None,
) -> tuple[NoteLink, ...]:
    """Where to read about a fastening, and about answers that were given (question: choice), best first.

    With a `notes-address` a link is the address, the note's slug and, if the note has it, `#section`; else a file's.
    """
    languages = tuple(dict.fromkeys(filter(None, (language, shop.language))))
    chosen = chosen_notes(shop.notes, fastening, answers or {}, languages)
    return tuple(note_link(note, shop.about.notes_address, section) for note in chosen)
