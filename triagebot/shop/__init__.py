"""Reads and checks a shop folder: one shop's own data, kept by its owner.

What checks a shop is loaded when somebody asks for it, so that a conversation starts without it.
"""

from typing import TYPE_CHECKING, Any

from triagebot.shop.hours import Closure, Hours, Opening, Span
from triagebot.shop.load import built_in_shop, load_shop
from triagebot.shop.notes import Note, NoteLink, Section, note_link, review_due
from triagebot.shop.schema import Contact, Maker, Offer, Service, Tool
from triagebot.shop.shop import Shop, notes_for
from triagebot.shop.words import fold

if TYPE_CHECKING:
    from triagebot.shop.check import check_shop, overdue

__all__ = [
    "Closure",
    "Contact",
    "Hours",
    "Maker",
    "Note",
    "NoteLink",
    "Offer",
    "Opening",
    "Section",
    "Service",
    "Shop",
    "Span",
    "Tool",
    "built_in_shop",
    "check_shop",
    "fold",
    "load_shop",
    "note_link",
    "notes_for",
    "overdue",
    "review_due",
]


def __getattr__(name: str) -> Any:
    """The names that no conversation needs."""
    if name in ("check_shop", "overdue"):
        from triagebot.shop import check

        return getattr(check, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
