"""Words of a line from the bench that were mistyped or written without vowels, as they are meant: "satys", "trns".

Rules of this file:
- a word is mended only where it is no ordinary word of the language and no word of the staff's;
- one slip makes a word of four letters or more another, two slips one of nine or more; a word without vowels is the one
  whose other letters it has;
- words that are as near must say one thing.
"""

import re
from collections.abc import Callable
from functools import lru_cache

from triagebot.counter.words import StaffWords
from triagebot.shop import fold

_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)*")
#: Words of fewer letters are not mended; longer ones may have two slips.
_MENDED_FROM, _TWO_SLIPS_FROM = 4, 9
#: So many letters without vowels are a word at least.
_BARE_FROM = 3
_VOWELS = "aeiou"


def repaired(words: StaffWords, common: Callable[[str], bool], text: str) -> str:
    """The text with its mistyped words as they are meant."""
    return _WORD.sub(lambda match: _meant(words, common, match[0]), text)


def _meant(words: StaffWords, common: Callable[[str], bool], said: str) -> str:
    word = fold(said).replace("'", "").replace("’", "")
    if word in _kept(words) or common(word):
        return said
    return _nearest(words, word) or said


@lru_cache(maxsize=1024)
def _nearest(words: StaffWords, word: str) -> str:
    """The word that this one is a slip of; "" where there is none, or several that say different things."""
    known = _known(words)
    near = [each for each in known if _without_vowels(each) == word and each != word] if len(word) >= _BARE_FROM else []
    if not near and len(word) >= _MENDED_FROM:
        from rapidfuzz.distance import OSA  # late: see `answering`

        slips = 2 if len(word) >= _TWO_SLIPS_FROM else 1
        apart = {each: OSA.distance(word, each, score_cutoff=slips) for each in known if len(each) >= _MENDED_FROM}
        best = min(apart.values(), default=slips + 1)
        near = [each for each, distance in apart.items() if distance == best <= slips]
    return near[0] if near and len({known[each] for each in near}) == 1 else ""


def _without_vowels(word: str) -> str:
    """The letters that are left of a word when the vowels within it are."""
    return word[0] + "".join(letter for letter in word[1:] if letter not in _VOWELS)


@lru_cache(maxsize=8)
def _known(words: StaffWords) -> dict[str, str]:
    """The words that another one may be a slip of, with what each says."""
    single = {word: kind for word, kind in words.shorthand.items() if word.isalpha() and kind != "filler"}
    return {**single, **{fold(word): kind for word, kind in words.repaired.items()}}


@lru_cache(maxsize=8)
def _kept(words: StaffWords) -> frozenset[str]:
    """The words that the staff use."""
    said = {*words.senses, *words.shorthand, *words.abbreviations, *words.phrases, *words.tool_words, *words.commands}
    return frozenset(word for phrase in said for word in phrase.split())
