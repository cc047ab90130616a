"""How a word is written before it is compared: makers' names, and what customers type.

This file decides which differences between two spellings do not count.
"""

import re
import unicodedata

#: Signs inside a word that vanish (it's, o’clock); every other sign that is no letter and no digit parts words.
_INSIDE_A_WORD = frozenset("'’ʼ‘`´\u00ad\u200b\u200c\u200d\ufeff")
_VANISHING = re.compile(f"[{''.join(sorted(_INSIDE_A_WORD))}]+")
#: Letters that Unicode does not take apart, as somebody without them on the keyboard writes them.
_PLAIN = {"ø": "o", "ł": "l", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe"}
_NOT_PLAIN = re.compile(f"[{''.join(_PLAIN)}]")
#: So many characters are known at once: nobody shall fill the memory by writing each that there is.
_KEPT = 8192


class _Letters(dict[int, str]):
    """What is left of each character of a text that was taken apart, found out once for each."""

    def __missing__(self, code: int) -> str:
        letter = chr(code)
        if letter in _INSIDE_A_WORD or unicodedata.combining(letter):
            left = ""
        else:
            left = letter if unicodedata.category(letter)[0] in "LMN" else " "
        if len(self) >= _KEPT:
            self.clear()
        self[code] = left
        return left


_LETTERS = _Letters()


def fold(text: str) -> str:
    """`text` without case, accents, punctuation and spare spaces: "Straße Nº 5" gives "strasse no 5".

    Letters, marks that are part of a letter (vowel signs) and digits stay, in any script. Idempotent.
    """
    if text.isascii() and text.isalnum():  # as most words are: they would come out the same below
        return text.lower()
    if text.isascii():
        letters = text.replace("'", "").replace("`", "").lower()
    else:  # patterns find the few characters of a long text faster than `str.translate` looks each one up
        letters = unicodedata.normalize("NFKD", _VANISHING.sub("", text)).casefold()
        letters = unicodedata.normalize("NFKD", _NOT_PLAIN.sub(lambda found: _PLAIN[found[0]], letters))
    return " ".join(letters.translate(_LETTERS).split())
