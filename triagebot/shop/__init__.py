"""Reads and checks a shop folder: one shop's own data, kept by its owner.

What checks a shop is loaded when somebody asks for it, so that a conversation starts without it.
"""

from typing import TYPE_CHECKING, Any

from triagebot.shop.front_matter import ShopStep
from triagebot.shop.hours import Closure, Hours, Opening, Span
from triagebot.shop.load import LEARNED, built_in_shop, load_shop
from triagebot.shop.neighbours import Neighbour
from triagebot.shop.notes import Note, NoteLink, Section, note_link, review_due, spoken
from triagebot.shop.retention import Kept, retention
from triagebot.shop.schema import CannedReply, Contact, Maker, NoteElsewhere, Offer, Service, Tool
from triagebot.shop.shop import Shop, notes_for, steps_of_notes
from triagebot.shop.words import fold

if TYPE_CHECKING:
    from triagebot.shop.check import check_shop, overdue
    from triagebot.shop.references import (
        ENCLOSURES,
        MOST_BYTES,
        PICTURES,
        Reference,
        markdown,
        reference,
        references_of,
    )
    from triagebot.shop.search import Found, Hit, NoteIndex

__all__ = [
    "ENCLOSURES",
    "LEARNED",
    "MOST_BYTES",
    "PICTURES",
    "CannedReply",
    "Closure",
    "Contact",
    "Found",
    "Hit",
    "Hours",
    "Kept",
    "Maker",
    "Neighbour",
    "Note",
    "NoteElsewhere",
    "NoteIndex",
    "NoteLink",
    "Offer",
    "Opening",
    "Reference",
    "Section",
    "Service",
    "Shop",
    "ShopStep",
    "Span",
    "Tool",
    "built_in_shop",
    "check_shop",
    "fold",
    "load_shop",
    "markdown",
    "note_link",
    "notes_for",
    "overdue",
    "reference",
    "references_of",
    "retention",
    "review_due",
    "spoken",
    "steps_of_notes",
]


#: What no conversation needs at its start, and the module that has it.
_LATER = dict.fromkeys(("check_shop", "overdue"), "check")
_LATER |= dict.fromkeys(
    ("ENCLOSURES", "MOST_BYTES", "PICTURES", "Reference", "markdown", "reference", "references_of"), "references"
)
_LATER |= dict.fromkeys(("Found", "Hit", "NoteIndex"), "search")


def __getattr__(name: str) -> Any:
    from importlib import import_module

    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"triagebot.shop.{_LATER[name]}"), name)
