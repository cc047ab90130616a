"""What stands at the head of a note: the fitting drawn, the tools as this shop calls them, which way, how tight.

This file decides which rows these are and in which order. All of it comes from the catalogue and from
tools.yaml, in the words that the conversation uses, so that a note and an answer never disagree.
"""

from dataclasses import dataclass

from triagebot.conversation import Guide
from triagebot.conversation.shop_offers import GRAVITY, offer
from triagebot.conversation.wording import number
from triagebot.pages.pictures import Drawing, drawing
from triagebot.pages.site import Reader
from triagebot.pictures import drawable
from triagebot.shop import Note
from triagebot.topics import Fastening


@dataclass(frozen=True, slots=True)
class Thing:
    """A tool: what kind it is; its name here, where it hangs and what the shop does with it, if the shop has it."""

    kind: str
    name: str | None = None
    hangs: str | None = None
    offer: str | None = None


@dataclass(frozen=True, slots=True)
class Glance:
    """One fastening at a glance. What does not apply is None or empty."""

    name: str
    drawing: Drawing | None
    tool: Thing | None
    also: tuple[Thing, ...]
    direction: str | None
    torque: str | None
    refitting: str | None


def glances(guide: Guide, reader: Reader, note: Note) -> tuple[Glance, ...]:
    """The fastenings that a note is about, without the one that stands for everything unlisted."""
    fastenings = [guide.topic.fastenings[name] for name in note.head.fastenings if name in guide.topic.fastenings]
    return tuple(glance(guide, reader, fastening) for fastening in fastenings if not fastening.broad)


def glance(guide: Guide, reader: Reader, fastening: Fastening) -> Glance:
    """One fastening."""
    texts = reader.texts
    refitting = fastening.refitting
    torque = refitting.torque if refitting else None
    values: dict[str, str] = {}
    if torque is not None:
        handle = guide.topic.catalogue.handle_mm
        values = {
            "torque": number(texts, torque, 1),
            "kilos": number(texts, torque / (handle / 1000) / GRAVITY, 0),
            "handle": number(texts, handle, 0),
        }
    return Glance(
        name=texts(f"fastening-{fastening.id}.short"),
        drawing=_drawing(guide, reader, fastening),
        tool=_thing(guide, reader, fastening.remover, "remover") if fastening.remover else None,
        also=tuple(_thing(guide, reader, accessory, "accessory") for accessory in fastening.accessories),
        direction=texts(f"direction-{fastening.direction}") if fastening.remover else None,
        torque=values.get("torque"),
        refitting=texts(refitting.text, **values) if refitting else None,
    )


def _thing(guide: Guide, reader: Reader, tool: str, what: str) -> Thing:
    kind = reader.texts(f"{what}-{tool}")
    own = guide.shop.tool_for(tool)
    if own is None or own.count == 0:
        return Thing(kind)
    return Thing(kind, own.name, own.hangs, offer(guide, reader.texts, own))


def _drawing(guide: Guide, reader: Reader, fastening: Fastening) -> Drawing | None:
    if not drawable(guide.topic, fastening.id):
        return None
    return drawing(guide.topic, reader, f"fastening:{fastening.id}")
