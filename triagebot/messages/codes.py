"""Short case codes that can be read aloud, and read back however somebody writes them down."""

import re
import unicodedata
from collections.abc import Callable
from secrets import randbelow

#: Crockford's base 32 has no I, L, O and U; 0 and 1 are left out too, which are still heard and read as letters.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 6

#: No code has these, so whoever writes one has taken another letter for it: the one that it looks most like.
_MISREAD = str.maketrans({"0": "Q", "O": "Q", "1": "7", "I": "J", "L": "J", "U": "V"})
#: What may stand between the letters, or round them.
_BETWEEN = re.compile(r"[\s\-‐-―−_.,:;#'\"“”‘’()]+")


def new_code(below: Callable[[int], int] = randbelow) -> str:
    """A fresh code such as "K7M-4QX": 30^6, seven hundred million, so two of a shop's cases hardly ever meet."""
    return _grouped("".join(ALPHABET[below(len(ALPHABET))] for _ in range(LENGTH)))


def read_code(text: str) -> str | None:
    """The code that somebody wrote, as `new_code` writes it: in small letters, with spaces or without the hyphen, with
    an O for a Q. None for what is no code."""
    letters = _BETWEEN.sub("", unicodedata.normalize("NFKC", text[: 10 * LENGTH])).upper().translate(_MISREAD)
    if len(letters) != LENGTH or not set(letters) <= set(ALPHABET):
        return None
    return _grouped(letters)


def _grouped(letters: str) -> str:
    half = LENGTH // 2
    return f"{letters[:half]}-{letters[half:]}"
