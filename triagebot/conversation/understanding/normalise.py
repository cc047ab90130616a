"""From what was typed to plain text, with the way back to the person's own words.

Rules of this file: which characters count and what they are folded to. Compatibility forms, case and
accents are folded; digits of every script become 0 to 9; controls, zero-width and bidi marks vanish; tags, addresses
and other things that are not speech become blanks.
"""

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

#: How many characters of a message are read.
READ_AT_MOST = 2000

#: The sign of a diameter; the letter that looks like it is taken for it.
DIAMETER = "\u2300"
_APOSTROPHES = "'\u2018\u2019\u201a\u201b\u2032\u00b4\u0060\u02bc\uff07"
_QUOTES = '"\u201c\u201d\u201e\u201f\u2033\u3003'
_DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d"
_FOLDED = (
    dict.fromkeys(_APOSTROPHES, "'")
    | dict.fromkeys(_QUOTES, '"')
    | dict.fromkeys(_DASHES, "-")
    | {"\u2044": "/", "\u066b": ".", "\u00d7": "x", "\u00d8": DIAMETER, "\u00f8": DIAMETER, "\u00df": "ss"}
    | {"\u00e6": "ae", "\u0142": "l", "\u0131": "i"}
)
#: The dot between two letters of an abbreviation: "N.m", "q.r.".
_ABBREVIATED = re.compile(r"(?<=\b[a-z])\.(?=[a-z]\b)")
#: Tags and comments of mark-up, addresses of mail and web: not speech.
_NOT_SPEECH = re.compile(r"</?[a-z!][^<>]{0,300}>|(?<![\w.+-])[\w.+-]++@[\w-]++\.[\w.]+|\bhttps?:\S+|\bwww\.\S+")


@dataclass(frozen=True, slots=True)
class Plain:
    """Folded text; character `i` of `text` came from character `origin[i]` of `source`."""

    text: str
    origin: tuple[int, ...] | range
    source: str
    cut: bool

    def own_words(self, start: int, end: int, most: int = 60) -> str:
        """The person's own characters behind `text[start:end]`, controls removed, at most `most` of them."""
        if start >= end:
            return ""
        span = self.source[self.origin[start] : self.origin[end - 1] + 1]
        shown = "".join(c for c in span if unicodedata.category(c)[0] != "C" or c.isspace())
        return " ".join(shown.split())[:most]


@lru_cache(maxsize=4096)
def _fold_character(character: str) -> str:
    if character in _FOLDED:
        return _FOLDED[character]
    if character.isspace():
        return " " if character != "\n" else "\n"
    if unicodedata.category(character)[0] == "C":
        return " " if unicodedata.category(character) == "Cc" else ""
    fraction = unicodedata.decomposition(character).startswith("<fraction>")
    parts = []
    for part in unicodedata.normalize("NFKD", character):
        if unicodedata.category(part) == "Mn":
            continue
        if unicodedata.category(part) == "Nd":
            parts.append(str(unicodedata.digit(part)))
        else:
            parts.append(_FOLDED.get(part, part.casefold()))
    folded = "".join(_FOLDED.get(part, part) for part in parts)
    return " " + folded if fraction else folded


def plain(text: str, most: int = READ_AT_MOST) -> Plain:
    """Fold the beginning of `text`, of which `most` characters come."""
    source = text[:most]
    cut = len(text) > most
    if source.isascii() and source.isprintable():
        folded, origin = source.lower().replace("`", "'"), range(len(source))
        return Plain(_blank(folded), origin, source, cut)
    pieces: list[str] = []
    places: list[int] = []
    for place, character in enumerate(source):
        piece = _fold_character(character)
        if len(places) + len(piece) > most:  # one character may stand for a whole sentence
            return Plain(_blank("".join(pieces)), tuple(places), source, cut=True)
        pieces.append(piece)
        places.extend([place] * len(piece))
    return Plain(_blank("".join(pieces)), tuple(places), source, cut)


def readable(text: str, most: int = READ_AT_MOST) -> str:
    """The beginning of a text of which `most` folded characters come, and one more where it goes on: what looks at a
    message need not look at what is not read of it, and `plain` knows that it was cut."""
    if text.isascii():
        return text[: most + 1]
    come = 0
    for place, character in enumerate(text):
        come += max(1, len(_fold_character(character)))
        if come > most:
            return text[: place + 1]
    return text


def goes_on(text: Plain, place: int) -> bool:
    """Whether anything is said from a place of the text on."""
    return any(character.isalnum() for character in text.text[place:])


def _blank(text: str) -> str:
    if "." in text:
        text = _ABBREVIATED.sub(" ", text)
    if "<" in text or "@" in text or "http" in text or "www" in text:
        return _NOT_SPEECH.sub(lambda match: " " * len(match.group()), text)
    return text


@lru_cache(maxsize=4096)
def folded(text: str) -> str:
    """Plain text of a word or phrase, without the way back, apostrophes dropped and blanks single."""
    return " ".join(plain(text).text.replace("'", "").split())
