"""How a word is written before it is compared: makers' names, and what customers type.

This file decides which differences between two spellings do not count.
"""

import unicodedata

#: Signs inside a word that vanish (it's, o’clock); every other sign that is no letter and no digit parts words.
_INSIDE_A_WORD = dict.fromkeys(map(ord, "'’ʼ‘`´\u00ad\u200b\u200c\u200d\ufeff"), "")
#: Letters that Unicode does not take apart, as somebody without them on the keyboard writes them.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe"})
#: Characters beyond this one are looked at each time: nobody shall fill the memory by writing each of them once.
_KEPT_UP_TO = 0x2FFF


class _Letters(dict[int, str]):
    """What is left of each character of a text that was taken apart, found out once for each."""

    def __missing__(self, code: int) -> str:
        letter = chr(code)
        if code in _INSIDE_A_WORD or unicodedata.combining(letter):
            left = ""
        else:
            left = letter if unicodedata.category(letter)[0] in "LMN" else " "
        if code <= _KEPT_UP_TO:
            self[code] = left
        return left


_LETTERS = _Letters()


def fold(text: str) -> str:
    """`text` without case, accents, punctuation and spare spaces: "Straße Nº 5" gives "strasse no 5".

    Letters, marks that are part of a letter (vowel signs) and digits stay, in any script. Idempotent.
    """
    if text.isascii() and text.isalnum():  # as most words are: they would come out the same below
        return text.lower()
    letters = unicodedata.normalize("NFKD", text.translate(_INSIDE_A_WORD)).casefold().translate(_PLAIN)
    return " ".join(unicodedata.normalize("NFKD", letters).translate(_LETTERS).split())
