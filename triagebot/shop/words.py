"""How a word is written before it is compared: makers' names, and what customers type.

This file decides which differences between two spellings do not count.
"""

import unicodedata

#: Signs inside a word that vanish (it's, o’clock); every other sign that is no letter and no digit parts words.
_INSIDE_A_WORD = frozenset("'’ʼ‘`´\u00ad\u200b\u200c\u200d\ufeff")
#: Letters that Unicode does not take apart, as somebody without them on the keyboard writes them.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe"})


def fold(text: str) -> str:
    """`text` without case, accents, punctuation and spare spaces: "Straße Nº 5" gives "strasse no 5".

    Letters, marks that are part of a letter (vowel signs) and digits stay, in any script. Idempotent.
    """
    whole = "".join(c for c in text if c not in _INSIDE_A_WORD)
    letters = unicodedata.normalize("NFKD", whole).casefold().translate(_PLAIN)
    kept: list[str] = []
    for letter in unicodedata.normalize("NFKD", letters):
        if letter in _INSIDE_A_WORD or unicodedata.combining(letter):
            continue
        kept.append(letter if unicodedata.category(letter)[0] in "LMN" else " ")
    return " ".join("".join(kept).split())
