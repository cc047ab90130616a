"""The words of one language of one topic as they are used: a tree of phrases, tables of numbers and units, spelling.

Rules of this file: which known word a slip of the finger stands for. `compiler` makes the tables.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from triagebot.conversation.understanding.lexicon import Patterns, Sureness, TopicWords
from triagebot.conversation.understanding.model import Guess
from triagebot.conversation.understanding.phrases import Root
from triagebot.conversation.understood import Command

#: Words shorter than this are never taken for a slip of the finger; from `SURE_FROM` on one slip is surely one, and
#: from `TWO_SLIPS` on two are forgiven.
SPELLED_FROM, SURE_FROM, TWO_SLIPS = 3, 4, 9
#: Value of a phrase of not knowing that takes back what was said before it.
AFTER_ALL = "after-all"
#: Value of a phrase of not knowing that says nothing where a plan stands behind it: "lost count, let me start again".
FOR_NOW = "for-now"
#: Value of an off-topic phrase that names the business of another trade.
OTHER_TRADE = "other-trade"


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Words:
    """One language of one topic, compiled. Cheap to use, dear to build: load once and keep."""

    language: str
    root: Root
    scopes: Root
    openings: Root
    corrections: Root
    wavering: Root
    motion: Mapping[str, Root]
    alone: Mapping[str, Command]
    agreeing: Mapping[str, Command]
    """`alone`, and what agrees or declines only where nothing is asked or something is to be confirmed."""
    fillers: frozenset[str]
    picking: frozenset[str]
    subjects: frozenset[str]
    tellers: frozenset[str]
    opening_fillers: frozenset[str]
    turning: frozenset[str]
    adding: frozenset[str]
    beginning: frozenset[str]
    pronouns: frozenset[str]
    measured_parts: frozenset[str]
    compared_things: frozenset[str]
    mine: frozenset[str]
    at_the_front: frozenset[str]
    linking: frozenset[str]
    beyond: frozenset[str]
    handling: frozenset[str]
    leads: frozenset[str]
    asking: frozenset[str]
    asking_anew: frozenset[str]
    asked_by: frozenset[str]
    interrogatives: frozenset[str]
    opining: frozenset[str]
    predicates: frozenset[str]
    assuring: frozenset[str]
    conditions: frozenset[str]
    acknowledging: frozenset[str]
    said_heard: frozenset[str]
    instruments: frozenset[str]
    later: frozenset[str]
    own_counts: Mapping[tuple[str, str], Mapping[str, tuple[int, ...]]]
    no_counts: Mapping[tuple[str, str], frozenset[str]]
    beside: Mapping[str, frozenset[str]]
    counted: frozenset[str]
    covers: Mapping[str, frozenset[str]]
    uncovers: Mapping[str, frozenset[str]]
    covers_most: Mapping[str, int]
    finer: Mapping[str, Mapping[str, Patterns]]
    denied: Mapping[str, Mapping[str, Patterns]]
    single: Mapping[str, frozenset[str]]
    own_sizes: frozenset[str]
    pairs: Mapping[str, str]
    ordinals: Mapping[str, int]
    shy: frozenset[str]
    none: frozenset[str]
    heard: Mapping[str, str]
    sure_heard: frozenset[str]
    introducing: frozenset[str]
    pointing: frozenset[str]
    concluding: frozenset[str]
    multiplying: frozenset[str]
    earlier: frozenset[str]
    counting: frozenset[str]
    stating: frozenset[str]
    circumstances: frozenset[str]
    denials: frozenset[str]
    not_numbers: frozenset[str]
    units: Mapping[str, float]
    doubtful_units: frozenset[str]
    elsewhere_lengths: Mapping[str, tuple[float, ...]]
    totals: Mapping[str, frozenset[str]]
    yes: Mapping[str, str]
    no: Mapping[str, str]
    either_or: frozenset[str]
    makers: str | None
    topic: TopicWords
    topic_file: str
    sureness: Sureness
    spelt_numbers: frozenset[str]
    number_language: str | None
    number_words: Mapping[tuple[str, ...], float]
    never_numbers: frozenset[str]
    fraction_words: Mapping[str, int]
    number_joints: frozenset[str]
    decimal_words: frozenset[str]
    minus_words: frozenset[str]
    articles: frozenset[str]
    ordinal_ends: frozenset[str]
    length_words: Mapping[str, float]
    vocabulary: frozenset[str] = frozenset()
    never_mended: frozenset[str] = frozenset()
    dialect: Mapping[str, str] = field(default_factory=dict)
    whole_only: frozenset[str] = frozenset()
    common_words: str = "\n"
    guess: Guess | None = None
    by_length: Mapping[tuple[bool, int, str], tuple[str, ...]] = field(default_factory=dict)
    """Words that others are taken for slips of, by whether they are little words, by length and by first letter."""
    _mended: dict[str, tuple[str, bool]] = field(default_factory=dict)
    _alone_by_letter: dict[str, list[str]] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"Words({self.language!r})"

    def mended(self, word: str) -> tuple[str, bool]:
        """`word`, or the known word that it is a slip of the finger away from; and whether that is sure."""
        if not self.by_length:  # still being compiled
            return word, True
        if word in self.dialect:
            return self.dialect[word], True
        if word in self.vocabulary or not SPELLED_FROM <= len(word) <= 30 or word in self.never_mended:
            return word, True
        known = self._mended.get(word)
        if known is None:
            if len(self._mended) > 5000:
                self._mended.clear()
            known = (word, True) if self.common(word) else self._nearest(word)
            if known[0] in self.spelt_numbers and sorted(known[0]) != sorted(word):
                known = (known[0], False)  # a name may look like a number: "steven"
            self._mended[word] = known
        return known

    def alone_with(self, letter: str) -> Sequence[str]:
        """What means something as a whole message and begins with this letter."""
        if not self._alone_by_letter:
            for said in self.alone:
                self._alone_by_letter.setdefault(said[0], []).append(said)
        return self._alone_by_letter.get(letter, ())

    def strange(self, word: str) -> bool:
        """Whether it is no word that is known here, and so may be a slip of the finger."""
        known = word in self.vocabulary or word in self.never_mended
        return not (known or self.common(word)) and len(word) >= SPELLED_FROM

    def common(self, word: str) -> bool:
        """Whether it is an ordinary word of the language."""
        return word in _rows(self.common_words)

    def _nearest(self, word: str) -> tuple[str, bool]:
        """A word with two letters changed over goes first, then the likeliest; of equals the topic's word before
        a little word of the language."""
        changed_over = _changed_over(word)
        for little in (False, True):
            swapped = [k for k in changed_over if k in self.by_length.get((little, len(word), k[0]), ())]
            if swapped:
                return min(swapped), True
        # The first letter is rarely the wrong one, and insisting on it keeps ordinary words apart.
        near = range(len(word) - _slips(word), len(word) + _slips(word) + 1)
        found = [
            known
            for little in (False, True)
            if (known := _nearest_of(word, [k for n in near for k in self.by_length.get((little, n, word[0]), ())]))
        ]
        # Letters that changed places go before others, and a likelier little word before the topic's ("teh").
        return max(found, key=lambda known: _likeness(word, known[0]), default=(word, True))

    def slip_of(self, word: str, known: Iterable[str]) -> str | None:
        """The one of `known` that `word`, itself no known word, is a slip of the finger away from."""
        if word in self.vocabulary or not SURE_FROM <= len(word) <= 30:
            return None
        near = [k for k in known if k[:1] == word[0] and abs(len(k) - len(word)) <= _slips(word)]
        found = _nearest_of(word, near)
        return None if found is None else found[0]


@lru_cache(maxsize=8)
def _rows(listed: str) -> frozenset[str]:
    """The words of a list with one a line; cut up when the first is looked for."""
    return frozenset(listed.strip("\n").split("\n"))


def _changed_over(word: str) -> frozenset[str]:
    """What it may be with two letters beside each other changed over: "teh"."""
    places = [at for at in range(len(word) - 1) if word[at] != word[at + 1]]
    return frozenset(f"{word[:at]}{word[at + 1]}{word[at]}{word[at + 2 :]}" for at in places)


def _slips(word: str) -> int:
    return 2 if len(word) >= TWO_SLIPS else 1


def _likeness(word: str, known: str) -> tuple[bool, float]:
    from rapidfuzz import fuzz

    return sorted(word) == sorted(known), fuzz.ratio(word, known)


def _nearest_of(word: str, near: list[str]) -> tuple[str, bool] | None:
    """The word of `near` at the fewest slips, at most `_slips(word)`, of several the likest; and whether it is sure:
    one slip in a long word, or two letters that changed places."""
    if not near:
        return None
    from rapidfuzz import fuzz, process
    from rapidfuzz.distance import OSA

    best = process.extract(word, near, scorer=OSA.distance, score_cutoff=_slips(word))
    if not best:
        return None
    fewest = min(distance for _, distance, _ in best)
    nearest = [k for k, distance, _ in best if distance == fewest]
    found = str(max(nearest, key=lambda k: (sorted(k) == sorted(word), fuzz.ratio(word, k))))
    moved = sorted(found) == sorted(word)
    return found, moved or (fewest == 1 and len(word) >= SURE_FROM and (len(nearest) == 1 or len(word) > SURE_FROM))
