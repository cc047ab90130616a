"""Plain text cut into words, numbers and marks, as they were typed; `number_words` puts together what is said in words.

Rules of this file: what is one number in figures. A comma or a point between digits is always decimal, never
thousands; a minus belongs to a number only when it touches it and nothing stands before it; dates, times, telephone
numbers and lists of tooth numbers are not numbers at all.
"""

import re
import sys
from dataclasses import dataclass
from typing import Literal

from triagebot.conversation.understanding.normalise import DIAMETER

#: Figures that are not numbers, first match wins.
_NOT_NUMBERS = (
    r"\+\d[\d ().-]{6,}",  # a telephone number
    r"\d+(?:\s*-\s*\d+){2,}(?!\s*/)",  # a list of tooth numbers
    r"\d+(?:\s*/\s*\d+){2,}",
    r"\d{1,4}(?P<part>[./-])\d{1,2}(?P=part)\d{2,4}(?!\d)",  # a date
    r"\d{1,2}:\d\d",  # a time
    r"\d{3,}(?:[ .-]\d{3,})+",
    r"\d+(?:[.,]\d+){2,}",  # a version
    r"[a-z]+\d++[a-z][a-z0-9]*",  # a code
    r"(?<![\w'])[a-wyz]-\d+(?!\w)",  # another: w-2
)
_LEX = re.compile(
    rf"(?P<junk>{'|'.join(_NOT_NUMBERS)})"
    r"|(?P<fraction>(?:(?P<whole>\d+)(?:\s+|\s*-\s*))?(?P<top>\d{1,3})\s?/\s?(?P<bottom>\d{1,3})(?:ths?|nds?|ds)?(?![\d/]))"
    r"|(?P<number>(?P<sign>(?:(?<=\s)|(?<=^)|(?<=[(:=]))[-+])?(?P<digits>\d+o(?![a-z0-9'])|\d+(?:[.,]\d+)?|(?:(?<=\s)|(?<=^))\.\d+)"
    r"(?:e(?P<power>[+-]?\d{1,3})(?![a-z0-9]))?)"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<mark>\+/?-|[^\w\s]|_|\n)"
)
#: Larger numbers than this are all the same: far too large.
BEYOND = 1e12
#: Into how many parts an inch is cut.
INCH_PARTS = frozenset({2, 4, 8, 16, 32, 64})
#: Marks that carry meaning next to a number; every other mark ends a clause or is dropped.
_KEPT = frozenset('"-+%$#&=/~<>') | {DIAMETER, "\u20ac", "\u00a3", "\u00a5", "\u00b1", "\u2033"}
_CLAUSE_END = frozenset(".,;!?()[]\n")


@dataclass(frozen=True, slots=True)
class Number:
    """A number as written: `step` is the worth of its last place; `low` < `high` when it is a range itself."""

    value: float
    low: float
    high: float
    step: float = 1.0
    fraction: bool = False
    spelt: bool = False


@dataclass(frozen=True, slots=True)
class Token:
    """One word, number or mark; `start` and `end` count characters of the plain text; `clause` counts up. `guessed`:
    the word was typed otherwise, and what is meant is likely but not sure."""

    kind: Literal["word", "number", "mark", "junk"]
    key: str
    start: int
    end: int
    clause: int
    number: Number | None = None
    touching: bool = False
    guessed: bool = False


def exactly(value: float, step: float = 1.0, fraction: bool = False, spelt: bool = False) -> Number:
    return Number(value, value, value, step, fraction, spelt)


def key_of(number: Number) -> str:
    """How a number is written in phrases: 12, 23.4."""
    return f"{number.value:g}"


def cut(text: str, most: int = sys.maxsize) -> list[Token]:
    """The first tokens of plain text as typed: no word is mended, and numbers in words are still words."""
    tokens: list[Token] = []
    clause = 0
    for match in _LEX.finditer(text):
        if len(tokens) > most:  # the last may still be changed by what stands behind it
            return tokens[:most]
        start, end = match.start(), match.end()
        touching = bool(tokens) and tokens[-1].end == start
        if match["junk"]:
            code = match["junk"] if match["junk"].isalnum() else ""
            tokens.append(Token("junk", code, start, end, clause, None, touching))
        elif match["fraction"]:
            number = _fraction(match["whole"], int(match["top"]), int(match["bottom"]))
            kind: Literal["number", "junk"] = "junk" if number is None else "number"
            tokens.append(Token(kind, key_of(number) if number else "", start, end, clause, number, touching))
        elif match["number"]:
            sign = match["sign"]
            if sign == "-" and tokens and tokens[-1].kind == "number" and tokens[-1].clause == clause:
                tokens.append(Token("mark", "-", start, start + 1, clause))
                sign = None
            number = _digits(match["digits"], match["power"], sign == "-")
            if touching and tokens[-1].kind == "word" and len(tokens[-1].key) < 3 and tokens[-1].key != "x":
                tokens[-1] = Token("junk", "", tokens[-1].start, end, clause)
                continue
            tokens.append(Token("number", key_of(number), start, end, clause, number, touching))
        elif match["word"]:
            tokens.append(Token("word", match["word"].replace("'", ""), start, end, clause, None, touching))
        elif match["mark"]:
            mark = match["mark"] if len(match["mark"]) == 1 else "\u00b1"
            if mark in _CLAUSE_END:
                clause += 1
            elif mark in _KEPT:
                tokens.append(Token("mark", mark, start, end, clause, None, touching))
    return tokens[:most]


def _digits(digits: str, power: str | None, negative: bool) -> Number:
    digits = digits.replace(",", ".").replace("o", "0")
    places = len(digits.partition(".")[2])
    value = min(float(f"{digits}e{power or 0}"), BEYOND)
    return exactly(-value if negative else value, 10.0**-places)


def _fraction(whole: str | None, top: int, bottom: int) -> Number | None:
    if bottom in INCH_PARTS and 0 < top < bottom:
        return exactly(min(float(whole or 0), BEYOND) + top / bottom, 1 / bottom, fraction=True)
    if whole is None and 0 < top < bottom <= 99:
        return Number((top + bottom) / 2, float(top), float(bottom))
    return None
