"""A sentence of a message: its words, as written and mended, and which patterns stand where in it."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice

from triagebot.conversation.enquiries.known import Enquiries
from triagebot.conversation.understanding.phrases import every
from triagebot.shop import fold

#: How many words of a sentence are looked at, and how many that are no known ones.
MOST_WORDS, MOST_MENDED = 50, 20
#: A word of this many letters may have one slip, or two.
ONE_SLIP, TWO_SLIPS = 5, 8
#: How many sentences of a message are looked at.
MOST_SENTENCES = 6
_SENTENCE = re.compile(r"(?:[^.?!;\n]|\.(?=\S))+[.?!;\n]*")
_CLAUSE = re.compile(r"[,:()]| - |–|—")

#: Where a pattern stands: its first word and the one behind its last.
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence: where it stands in the message, its words, as written (`said`) and mended (`keys`), with which of
    them its `clauses` begin, and which patterns stand where. `marked`: it begins or ends as questions do; `behind`: its
    last clause does; `asks`: that, or it has words of asking in it; `mark`: it has a question mark; `formed`: it has
    the form of a question, a request or a wish; `text`: all of it, as written."""

    first: int
    said: tuple[str, ...]
    keys: tuple[str, ...]
    clauses: tuple[int, ...]
    marked: bool
    places: Mapping[int, tuple[Place, ...]]
    asks: bool
    behind: bool = False
    mark: bool = False
    formed: bool = False
    text: str = ""

    def part(self, start: int, end: int) -> str:
        """Some of its words."""
        return " ".join(self.said[start:end])


def sentences_of(text: str, known: Enquiries, common: Callable[[str], bool]) -> list[Sentence]:
    """The first sentences of a message; the last one may have no words. `common`: whether a word is an ordinary one of
    the language, and so no slip of another."""
    return [sentence_of(match, known, common) for match in islice(_SENTENCE.finditer(text), MOST_SENTENCES)]


def said_in(text: str) -> list[tuple[int, str]]:
    """All sentences of a message as they were written, and where each begins."""
    return [(match.start(), match.group().strip()) for match in _SENTENCE.finditer(text)]


def sentence_of(match: "re.Match[str]", known: Enquiries, common: Callable[[str], bool]) -> Sentence:
    words = fold(match.group()).split()[:MOST_WORDS]
    strange = [word for word in words if _may_be_a_slip(word, known, common)][:MOST_MENDED]
    mended = {word: _mended(word, known.vocabulary, known.asked_about) for word in strange}
    keys = tuple(mended.get(word, word) for word in words)
    numbers = [key.isdigit() for key in keys]
    places: dict[int, list[Place]] = {}
    for start in range(len(keys)):
        for end, meanings in every(known.root, keys, start, numbers):
            for meaning in meanings:
                places.setdefault(int(meaning.subject), []).append((start, end))
    marked = "?" in match.group() or not known.tags.isdisjoint(keys[-1:])
    begins = next((key for key in keys if key not in known.leads), "")
    opened, worded = begins in known.openers, not known.asking.isdisjoint(places)
    put, asks = marked or (opened and worded), marked or opened or worded
    stand = {number: tuple(where) for number, where in places.items()}
    behind = worded and _ends_asking(match.group(), known)
    clauses = tuple(_beginnings(match.group(), len(keys)))
    formed = marked or not known.forming.isdisjoint(places) or _opened(keys, clauses, known)
    mark, text = "?" in match.group(), match.group().strip()
    return Sentence(match.start(), tuple(words), keys, clauses, put, stand, asks, behind, mark, formed, text)


def _opened(keys: Sequence[str], clauses: Sequence[int], known: Enquiries) -> bool:
    """Whether it, or a clause of it, begins with a question word; "is" is one before "it", and none before "loose"."""
    joined = (place + 1 for place, key in enumerate(keys) if key in known.joints)
    for begin in (*clauses, *joined):
        rest = [key for key in keys[begin:] if key in known.subjects or key not in known.leads][:2]
        inverted = rest[1:] and rest[0] in known.auxiliaries and rest[1] in known.subjects
        if inverted or (rest and rest[0] in known.question_words and known.lacking.isdisjoint(rest[1:])):
            return True
    return False


def second_questions(sentence: Sentence, known: Enquiries) -> list[int]:
    """Where another question begins within a sentence, behind words such as "and"."""
    keys = sentence.keys
    joined = (place for place, key in enumerate(keys) if key in known.joints and place > 1)
    return [place + 1 for place in joined if _opened(keys[place + 1 :], (0,), known)]


def _beginnings(text: str, words: int) -> Iterator[int]:
    """With which words the clauses of a sentence begin."""
    first = 0
    for clause in _CLAUSE.split(text):
        length = len(fold(clause).split())
        if length and first < words:
            yield first
        first += length


def _ends_asking(text: str, known: Enquiries) -> bool:
    """Whether its last clause begins as questions do: "a chain whip sounds like a film, what is it"."""
    *before, last = _CLAUSE.split(text)
    return bool(before) and next(iter(fold(last).split()), "") in known.openers


def _may_be_a_slip(word: str, known: Enquiries, common: Callable[[str], bool]) -> bool:
    return ONE_SLIP <= len(word) <= 20 and word.isalpha() and word not in known.vocabulary and not common(word)


def _mended(word: str, vocabulary: frozenset[str], asked_about: frozenset[str] = frozenset()) -> str:
    """The known word that this one is a slip of the finger away from, else the word itself; of two that are as near,
    one that is in the glossary."""
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    near = [known for known in _by_first_letter(vocabulary).get(word[0], ()) if abs(len(known) - len(word)) <= 2]
    letters = sorted(word)  # letters that changed places go first
    moved = [known for known in near if len(known) == len(word) and sorted(known) == letters]
    most = 1 + (len(word) >= TWO_SLIPS)
    found = process.extract(word, moved or near, scorer=OSA.distance, score_cutoff=most, limit=None)
    return min(found, key=lambda row: (row[1], row[0] not in asked_about, row[0]), default=(word,))[0]


@lru_cache(maxsize=4)
def _by_first_letter(vocabulary: frozenset[str]) -> dict[str, tuple[str, ...]]:
    """Those of its words that others may be a slip of."""
    found: dict[str, list[str]] = {}
    for word in vocabulary:
        if len(word) >= ONE_SLIP:
            found.setdefault(word[0], []).append(word)
    return {letter: tuple(words) for letter, words in found.items()}


def covered_by(sentence: Sentence, patterns: Sequence[int]) -> frozenset[int]:
    """The most words that these patterns cover together, none on the words of another; empty if one is missing."""
    choices = [sentence.places.get(number, ()) for number in patterns]
    if not all(choices):
        return frozenset()
    return max(_apart(choices, frozenset()), key=len, default=frozenset())


def _apart(choices: Sequence[Sequence[Place]], taken: frozenset[int]) -> Iterator[frozenset[int]]:
    if not choices:
        yield taken
        return
    for start, end in choices[0][:8]:
        words = frozenset(range(start, end))
        if not words & taken:
            yield from _apart(choices[1:], taken | words)


def others(sentence: Sentence, covered: frozenset[int], known: Enquiries) -> list[str]:
    """The words that say something and are not covered."""
    return [
        key
        for place, key in enumerate(sentence.keys)
        if place not in covered and key not in known.fillers and not (key.isdigit() and len(key) > 3)
    ]
