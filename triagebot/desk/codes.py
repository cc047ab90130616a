"""Short case codes that can be read aloud."""

from collections.abc import Callable
from secrets import randbelow

#: Crockford's base 32 has no I, L, O and U; 0 and 1 are left out too, which are still heard and read as letters.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 6


def new_code(below: Callable[[int], int] = randbelow) -> str:
    """A fresh code such as "K7M-4QX": 30^6, seven hundred million, so two of a shop's cases hardly ever meet."""
    letters = "".join(ALPHABET[below(len(ALPHABET))] for _ in range(LENGTH))
    return f"{letters[:3]}-{letters[3:]}"
