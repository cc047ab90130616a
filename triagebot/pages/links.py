"""Lines with links in them: web addresses, and the shop's telephone and e-mail, wherever they stand."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from triagebot.conversation import Guide

_ADDRESS = re.compile(r"https?://[^\s<>\"]+[^\s<>\".,;:!?)]")


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a line; `href` is where it leads."""

    text: str
    href: str = ""
    bold: bool = False


Line = tuple[Piece, ...]


def contacts(guide: Guide) -> dict[str, Piece]:
    """How the shop is reached, wherever that stands."""
    contact = guide.shop.contact
    known = {}
    if contact.phone:
        known[contact.phone] = Piece(contact.phone, f"tel:{''.join(contact.phone.split())}")
    if contact.e_mail:
        known[contact.e_mail] = Piece(contact.e_mail, f"mailto:{contact.e_mail}")
    return known


def pieces_of(line: str, known: Mapping[str, Piece]) -> Line:
    """A line cut where something known or a web address stands in it."""
    known = {**known, **{found: Piece(found, found) for found in _ADDRESS.findall(line)}}
    if not known:
        return (Piece(line),)
    longest_first = sorted(known, key=lambda words: -len(words))
    parts = re.split(f"({'|'.join(map(re.escape, longest_first))})", line)
    return tuple(known.get(part, Piece(part)) for part in parts if part)
