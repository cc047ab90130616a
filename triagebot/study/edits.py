"""Two editions of a topic and a shop, row by row: what differs, and any mixture of the two.

An edit is one row with an id of its own (a fastening, a question, a tool, a text, a note), or else a whole section of a
file (`losses`, `transitions`). Words of understanding are left out: what people said has been understood already. Every
mixture has the texts that one edition lacks, since they show nowhere before another row names them; a note names its
fastenings itself, so adding or removing one is an edit.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel

from triagebot.conversation import Guide
from triagebot.conversation.guide import Language
from triagebot.topics import Learned, Texts, Topic, messages, taught, texts_of

#: Rows of a file that have a key of their own: file -> section -> key.
_ROWS = {
    "catalogue.yaml": dict.fromkeys(("fastenings", "removers", "accessories", "cautions"), "id"),
    "flow.yaml": {"questions": "id"},
    "tools.yaml": {"tools": "tool"},
    "services.yaml": {"services": "id"},
    "makers.yaml": {"choices": "choice"},
}


@dataclass(frozen=True, slots=True, order=True)
class Edit:
    """One row that differs: in which file, in which section of it, and which; `row` is empty for a whole section."""

    file: str
    section: str
    row: str = ""

    def __str__(self) -> str:
        return f"{self.file}: {self.section}" + (f"[{self.row}]" if self.row else "")


#: Where notes are read in both editions, unless the shop says where: the folder that they lie in changes no answer.
_NOTES = "notes"


def edition_from(topic: Topic, guide: Guide) -> "Edition":
    """A topic with its own figures, and the guide that was made of it with a shop."""
    return Edition(topic, replace(guide, shop=guide.shop.read_at(_NOTES)))


@dataclass(frozen=True, eq=False)
class Edition:
    """What `edition_from` makes."""

    topic: Topic
    guide: Guide

    @cached_property
    def files(self) -> Mapping[str, BaseModel]:
        """What the files of the topic and of the shop say, by the name of the file."""
        topic, shop = self.topic, self.guide.shop
        return {
            "catalogue.yaml": topic.catalogue, "flow.yaml": topic.flow, "shop.yaml": shop.about,
            "tools.yaml": shop.tools_file, "services.yaml": shop.services_file, "makers.yaml": shop.makers_file,
        }  # fmt: skip

    @cached_property
    def rows(self) -> Mapping[Edit, Any]:
        """Everything that an answer can hang on, by where it stands."""
        topic, shop = self.topic, self.guide.shop
        learned = shop.learned or Learned(topic=topic.id)
        found: dict[Edit, Any] = {}
        for file, model in self.files.items():
            found.update(_model_rows(file, model))
        found[Edit("learned.yaml", "priors")] = learned.priors
        found[Edit("learned.yaml", "slips")] = learned.slips
        found[Edit("gauges.yaml", "gauges")] = dict(topic.gauges)
        found |= {Edit("links.yaml", "links", name): link for name, link in shop.elsewhere.items()}
        found |= {Edit(note.file, "note"): (note.head, note.body) for note in shop.notes}
        for language in self.guide.spoken:
            rows = self.texts[language].items()
            found |= {Edit(f"text/{language}.ftl", name): text for name, text in rows}
        return MappingProxyType(found)

    @cached_property
    def texts(self) -> Mapping[str, Mapping[str, str]]:
        """The topic's own messages, by language and id."""
        return {language: messages(self.topic.folder, language) for language in self.guide.spoken}


def _model_rows(file: str, model: BaseModel) -> Iterator[tuple[Edit, Any]]:
    for name in type(model).model_fields:
        value = getattr(model, name)
        section = name.replace("_", "-")
        if section in _ROWS.get(file, {}):
            yield from ((Edit(file, section, getattr(row, _ROWS[file][section])), row) for row in value)
        else:
            yield Edit(file, section), value


def edits_between(live: Edition, edited: Edition) -> tuple[Edit, ...]:
    """Every row that differs, sorted. A text that only one of them has is none by itself."""
    old, new = live.rows, edited.rows
    return tuple(
        edit
        for edit in sorted({*old, *new})
        if (old[edit] != new[edit] if edit in old and edit in new else not edit.file.startswith("text/"))
    )


def mixed(live: Edition, edited: Edition, chosen: Collection[Edit]) -> Guide:
    """The live edition with these rows as edited. Raises whatever a mixture that does not hold together raises."""
    rows = {edit: value for edit, value in live.rows.items() if edit not in chosen}
    rows |= {edit: edited.rows[edit] for edit in chosen if edit in edited.rows}
    file = {name: _model(name, live.files[name], edited.files[name], rows) for name in live.files}
    shop = live.guide.shop
    topic = replace(
        live.topic,
        catalogue=file["catalogue.yaml"],
        flow=file["flow.yaml"],
        gauges=rows[Edit("gauges.yaml", "gauges")],
        sources={**edited.topic.sources, **live.topic.sources},
        digest="mixed",
    )
    notes = {note.file: note for note in shop.notes}
    notes |= {n.file: n for n in edited.guide.shop.notes if n.file not in notes or Edit(n.file, "note") in chosen}
    learned = Learned(
        topic=topic.id, priors=rows[Edit("learned.yaml", "priors")], slips=rows[Edit("learned.yaml", "slips")]
    )
    mixture = replace(
        shop,
        about=file["shop.yaml"],
        tools_file=file["tools.yaml"],
        services_file=file["services.yaml"],
        makers_file=file["makers.yaml"],
        notes=tuple(notes[name] for name in sorted(notes) if Edit(name, "note") in rows),
        systems={f.id: f.system for f in topic.catalogue.fastenings},
        elsewhere={edit.row: link for edit, link in rows.items() if edit.file == "links.yaml"},
        learned=learned,
    )
    spoken = {
        code: Language(_texts(live, edited, code, chosen), language.words) if code in edited.guide.spoken else language
        for code, language in live.guide.spoken.items()
    }
    return Guide(taught(topic, learned), mixture, spoken, live.guide.address)


def _model(file: str, live: Any, edited: Any, rows: Mapping[Edit, Any]) -> Any:
    """A file's value, from rows; they keep the order in which they stand in the live file, new ones at the end."""
    update: dict[str, Any] = {}
    for name in type(live).model_fields:
        section = name.replace("_", "-")
        key = _ROWS.get(file, {}).get(section)
        if key is None:
            update[name] = rows[Edit(file, section)]
        else:
            order = dict.fromkeys(getattr(row, key) for model in (live, edited) for row in getattr(model, name))
            places = (Edit(file, section, row) for row in order)
            update[name] = tuple(rows[place] for place in places if place in rows)
    return live.model_copy(update=update)


def _texts(live: Edition, edited: Edition, language: str, chosen: Collection[Edit]) -> Texts:
    old, new = live.texts[language], edited.texts[language]
    file = f"text/{language}.ftl"
    written = {**new, **old} | {name: text for name, text in new.items() if Edit(file, name) in chosen}
    return live.guide.spoken[language].texts if written == old else texts_of(written, language)
