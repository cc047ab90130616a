"""Codes that people read aloud and type, and read back however they write them down.

Two alphabets, and no other code in the project has one of its own:
- a case's code is short and no secret: it opens nothing by itself;
- what lets somebody in (an invitation to join a case, or to become one of the staff) is a secret, long enough that
  nobody guesses it while it counts.
"""

import re
import secrets
import unicodedata
from collections.abc import Callable
from functools import lru_cache

from triagebot.messages.words import words_beside

#: Crockford's base 32 has no I, L, O and U; 0 and 1 are left out too, which are still heard and read as letters.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 6
#: Consonants alone make no word and no number.
CONSONANTS = "BCDFGHJKMNPQRSTVWXYZ"
#: How many letters a secret has, by what it lets somebody do: 2^51 are hard to guess in two days, 2^86 in thirty.
JOIN_CODE, STAFF_CODE = 12, 20
#: A secret is given out in groups of so many letters.
GROUP = 4

#: No longer message names a case by its code and says nothing else.
LONGEST_NAMING = 60
#: No case code has these, so a person who writes one has taken another letter for it: the one that it looks most like.
_MISREAD = str.maketrans({"0": "Q", "O": "Q", "1": "7", "I": "J", "L": "J", "U": "V"})
#: No longer message brings a secret among its words.
_LONGEST_BRINGING = 160
#: Groups of a secret, as they are given out.
_GROUPS = re.compile(rf"(?<![\w-])[{CONSONANTS}]{{{GROUP}}}(?:\s?[-–]\s?[{CONSONANTS}]{{{GROUP}}})+(?![\w-])")
#: What may stand between the letters of a case code, or round them.
_BETWEEN = re.compile(r"[\s\-‐-―−_.,:;#'\"“”‘’()]+")


def new_code(below: Callable[[int], int] = secrets.randbelow) -> str:
    """A fresh case code such as "K7M-4QX": 30^6, seven hundred million, so two of a shop's cases hardly ever meet."""
    return grouped("".join(ALPHABET[below(len(ALPHABET))] for _ in range(LENGTH)), LENGTH // 2)


def read_code(text: str) -> str | None:
    """The case code that somebody wrote, as `new_code` writes it: in small letters, with spaces or without the hyphen,
    with an O for a Q. None for what is no code."""
    letters = _BETWEEN.sub("", unicodedata.normalize("NFKC", text[: 10 * LENGTH])).upper().translate(_MISREAD)
    if len(letters) != LENGTH or not set(letters) <= set(ALPHABET):
        return None
    return grouped(letters, LENGTH // 2)


@lru_cache(maxsize=32)
def _naming(language: str) -> re.Pattern[str]:
    """A code as it is given out, or any six letters that are called a code."""
    words = words_beside(__file__, language)
    before, code, is_ = ("|".join(map(re.escape, map(str, words[name]))) for name in ("before", "code", "is"))
    return re.compile(
        rf"\s*(?:(?:{before})\s+){{0,2}}(?P<word>{code})?\s*(?:{is_}|:)?\s*"
        r"(?P<code>\w{3}(?P<hyphen>[-–])?\s?\w{3})\s*\.?\s*",
        re.IGNORECASE,
    )


def named_code(text: str, language: str) -> str | None:
    """The code that a message names and says nothing else; None for any other message."""
    found = _naming(language).fullmatch(text) if len(text) < LONGEST_NAMING else None
    if found is None or not (found["hyphen"] or found["word"]):
        return None
    return read_code(found["code"])


def fresh_secret(letters: int) -> str:
    """A new secret of so many letters, drawn by the system at random, without what stands between its groups."""
    return "".join(secrets.choice(CONSONANTS) for _ in range(letters))


def read_secret(text: str, letters: int) -> str | None:
    """The secret of so many letters that a text is and nothing else, however it is grouped; None for any other."""
    if len(text) > 4 * letters:
        return None
    plain = unicodedata.normalize("NFKC", text).upper()
    found = "".join(c for c in plain if not (c.isspace() or unicodedata.category(c) in ("Pd", "Po", "Pc", "Cf")))
    return found if len(found) == letters and set(found) <= set(CONSONANTS) else None


def secret_among(text: str, letters: int) -> str | None:
    """The only secret that a message has, alone or among other words, there with hyphens between its groups: for one
    that does little. None for any other message."""
    if (alone := read_secret(text, letters)) is not None or len(text) > _LONGEST_BRINGING:
        return alone
    runs = _GROUPS.findall(unicodedata.normalize("NFKC", text).upper())
    found = [each for run in runs for each in run if each in CONSONANTS]
    return "".join(found) if len(found) == letters else None


def grouped(letters: str, group: int = GROUP) -> str:
    """A code as it is given out: BCDF-GHJK-MNPQ."""
    return "-".join(letters[start : start + group] for start in range(0, len(letters), group))
