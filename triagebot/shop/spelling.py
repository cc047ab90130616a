"""Words as they were meant, by the words that are known: for looking something up, where a near miss does little harm.

Rules of this file:
- two words that are known as one are joined ("free wheel"), and one that is known as two is parted ("chainwhip");
- figures and letters are parted ("40nm");
- a word that is not known, and that no known word begins with, is taken for the nearest one that is: with one slip in
  words from `SHORT` letters on, and two from `LONG`, of which the first letter is none. A word of `WHOLE` letters or
  more with one slip in it is taken for that one even if it begins another.
"""

import re
from collections.abc import Sequence
from collections.abc import Set as AbstractSet

#: `WHOLE`: from so many letters on, a word is rather a slip than the beginning of another.
SHORT, WHOLE, LONG = 4, 6, 7
#: The shortest part of a word that is parted.
PART = 4

_FIGURES = re.compile(r"\d+|[^\W\d]+")


def as_meant(words: Sequence[str], known: AbstractSet[str]) -> list[str]:
    """Each word as it is known; one that nothing is near to, as it stands."""
    found: list[str] = []
    waiting = list(words)
    while waiting:
        word = waiting.pop(0)
        if waiting and word + waiting[0] in known:
            found.append(word + waiting.pop(0))
        else:
            found += _meant(word, known)
    return found


def _meant(word: str, known: AbstractSet[str]) -> list[str]:
    if word in known:
        return [word]
    if len(word) >= WHOLE and (nearest := _nearest(word, known, 1)):
        return [nearest]
    if any(each.startswith(word) for each in known):
        return [word]
    parts = _FIGURES.findall(word)
    if len(parts) > 1:
        return as_meant(parts, known)
    for cut in range(PART, len(word) - PART + 1):
        if word[:cut] in known and word[cut:] in known:
            return [word[:cut], word[cut:]]
    return [_nearest(word, known, 1 if len(word) < LONG else 2) or word]


def _nearest(word: str, known: AbstractSet[str], slips: int) -> str | None:
    if len(word) < SHORT or word.isdigit():
        return None
    from rapidfuzz.distance import OSA

    near = [
        (OSA.distance(word, each, score_cutoff=slips), -len(each), each)
        for each in known
        if each[0] == word[0] and len(each) >= SHORT and abs(len(each) - len(word)) <= slips
    ]
    slip, _, best = min(near, default=(slips + 1, 0, ""))
    return best if slip <= slips else None
