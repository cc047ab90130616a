"""What somebody asks in between, found in a message.

Rules of this file:
- each sentence is read by itself; it asks if it ends with a question mark, begins as questions do, or has words of
  asking in it;
- a row of patterns is found if all of them stand in the sentence, none on the words of another. Of several rows the one
  whose words tell most goes first (`Examples.telling`), then the one that stands higher in the files;
- words of the glossary come after everything else: "what does a lockring tool cost?" asks for the price;
- a sentence that no row is found in may be much like one of the examples.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice, pairwise
from typing import Literal

from triagebot.conversation.enquiries.lexicon import Says
from triagebot.conversation.enquiries.likeness import Examples, likest_of
from triagebot.conversation.enquiries.named_days import DayWords
from triagebot.conversation.enquiries.when import Times
from triagebot.conversation.understanding.phrases import Root, every
from triagebot.shop import fold

#: How much of a message is looked at: sentences, words of a sentence, and words that are no known ones.
MOST_SENTENCES, MOST_WORDS, MOST_MENDED = 6, 50, 20
#: A word of this many letters may have one slip, or two.
ONE_SLIP, TWO_SLIPS = 5, 8
#: What being quite like an example of the same enquiry is worth, in the measure of `Examples.telling`.
LIKENESS = 4.0
#: And that something is asked for, and not only about.
ORDERED = 6.0
#: So many words beside it may stand in a sentence that asks what a word means; more if the two stand close together.
SPARE, SPARE_CLOSE, CLOSE = 7, 12, 2
#: What is told behind one of these belongs to the question: "which is the locknut? There are two nuts".
SPEAKS_OF_IT = frozenset({"what-is", "other-trouble"})
#: Sentences that ask only together are sure to do so if they have no more words than this: "Chain whip. Explain."
SHORT = 6
#: A part of a sentence with fewer words than this says nothing of the wheel.
SAYING = 2
_ANYTHING = re.compile(r".+", re.DOTALL)
_CLAUSE = re.compile(r"[,:()]| - |–|—")
_SENTENCE = re.compile(r"(?:[^.?!;\n]|\.(?=\S))+[.?!;\n]*")


@dataclass(frozen=True, slots=True)
class Sought:
    """One row of an enquiry: the numbers of its patterns, and in which sentences it counts."""

    enquiry: str
    patterns: tuple[int, ...]
    kind: Literal["row", "stated", "alone", "order"]


@dataclass(frozen=True, slots=True)
class Enquiry:
    """What is asked: an enquiry by its id, or (`term`) a word of the glossary. `tool`: the tool that is named.

    `sure`: it is put as a question and in words of its own, not only much like an example. `own`: the part of its
    sentence that asks. `rest`: what the message says beside that, in sentences and clauses that ask nothing. `put`: its
    sentence has the form of a question. `whole`: the sentence says nothing else. `worth`: how much its words tell.
    `keys`: its words."""

    id: str
    term: str = ""
    tool: str = ""
    sure: bool = True
    own: str = ""
    rest: str = ""
    put: bool = False
    whole: bool = False
    worth: float = 0.0
    keys: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Enquiries:
    """The ways of asking in one language, ready to be found. Patterns go by their numbers."""

    root: Root
    sought: tuple[Sought, ...]
    asking: frozenset[int]
    openers: frozenset[str]
    tags: frozenset[str]
    leads: frozenset[str]
    fillers: frozenset[str]
    vocabulary: frozenset[str]
    words: frozenset[str]
    asked_about: frozenset[str]
    days: DayWords
    times: Times
    orders: frozenset[str]
    shut: frozenset[str]
    not_shut: frozenset[str]
    terms: Mapping[str, int]
    what_is: frozenset[int]
    plain_what_is: frozenset[int]
    differences: tuple[tuple[tuple[str, str], str], ...]
    pictures: Mapping[str, str]
    tools: Mapping[str, int]
    says: Mapping[str, Says]
    about: Mapping[str, tuple[str, ...]]
    like: tuple[tuple[str, str], ...]

    @cached_property
    def examples(self) -> Examples:
        return Examples([(name, fold(text).split()) for name, text in self.like])


#: Where a pattern stands: its first word and the one behind its last.
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence: where it stands in the message, its words, as written (`said`) and mended (`keys`), with which of
    them its `clauses` begin, and which patterns stand where. `marked`: it begins or ends as questions do; `behind`: its
    last clause does; `asks`: that, or it has words of asking in it."""

    first: int
    said: tuple[str, ...]
    keys: tuple[str, ...]
    clauses: tuple[int, ...]
    marked: bool
    places: Mapping[int, tuple[Place, ...]]
    asks: bool
    behind: bool = False

    def part(self, start: int, end: int) -> str:
        """Some of its words."""
        return " ".join(self.said[start:end])


def find_enquiry(text: str, known: Enquiries, common: Callable[[str], bool]) -> Enquiry | None:
    """What the message asks; of several things the first. `common`: whether a word is an ordinary one of the language,
    and so no slip of another."""
    found: list[tuple[Sentence, Enquiry]] = []
    sentences = [_sentence(match, known, common) for match in islice(_SENTENCE.finditer(text), MOST_SENTENCES)]
    for sentence in sentences:
        if sentence.keys and (enquiry := _in_sentence(sentence, known)) is not None:
            found.append((sentence, enquiry))
    if not found and len(sentences) > 1:
        whole = _ANYTHING.search(text)
        joined = _sentence(whole, known, common) if whole is not None else None
        enquiry = _in_sentence(joined, known) if joined is not None else None
        if joined is not None and enquiry is not None and enquiry.sure:
            return replace(enquiry, rest="", sure=len(joined.keys) <= SHORT, put=joined.marked, keys=joined.keys)
    if not found:
        return None
    sure = [row for row in found if row[1].sure]
    sentence, first = (sure or found)[0]
    asked = {each.first for each, _ in found}
    said = [(match.start(), match.group().strip()) for match in _SENTENCE.finditer(text)]
    own = first.id not in SPEAKS_OF_IT
    others = [words for place, words in said if place not in asked and (own or place < sentence.first)]
    rest = ". ".join(part for part in (first.rest, *others) if part)
    return replace(first, rest=rest, put=sentence.marked, keys=sentence.keys)


def _sentence(match: "re.Match[str]", known: Enquiries, common: Callable[[str], bool]) -> Sentence:
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
    return Sentence(match.start(), tuple(words), keys, clauses, put, stand, asks, behind)


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

    near = [k for k in vocabulary if k[0] == word[0] and abs(len(k) - len(word)) <= 2 and len(k) >= ONE_SLIP]
    moved = [known for known in near if sorted(known) == sorted(word)]  # letters that changed places go first
    most = 1 + (len(word) >= TWO_SLIPS)
    found = process.extract(word, moved or near, scorer=OSA.distance, score_cutoff=most, limit=None)
    return min(found, key=lambda row: (row[1], row[0] not in asked_about, row[0]), default=(word,))[0]


def _in_sentence(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    tool = next((name for name, number in known.tools.items() if number in sentence.places), "")
    like = known.examples.likeness(sentence.keys)
    best = 0.0
    found: Enquiry | None = None
    if (first := _named_first(sentence, known)) is not None:
        return first
    for sought in known.sought:
        covered = _covered(sentence, sought.patterns)
        worth = sum(known.examples.telling(sentence.keys[place]) for place in covered)
        worth += LIKENESS * like.get(sought.enquiry, 0.0) if covered else 0.0
        worth += ORDERED if covered and sought.kind == "order" else 0.0
        if worth <= best or _strangers(sentence, known) > 2 + 2 * worth:
            continue
        alone = not _others(sentence, covered, known)
        if sought.kind == "alone" and not alone:
            continue
        if sought.kind == "row" and not (sentence.asks or alone):
            continue
        best = worth
        own, rest = _parts(sentence, covered, known, sought)
        sure = sought.kind in ("alone", "order") or (sought.kind == "row" and sentence.asks)
        found = Enquiry(
            sought.enquiry,
            tool=tool,
            sure=sure,
            own=own,
            rest=rest,
            whole=sought.kind == "alone",
            worth=worth,
        )
    if found is None and (found := _about_a_word(sentence, known)) is not None:
        named = known.terms.get(found.term)
        places = frozenset(start for start, _ in sentence.places.get(named, ())) if named is not None else frozenset()
        own, rest = _parts(sentence, places, known)
        found = replace(found, own=own, rest=rest)
    if found is None and sentence.asks:
        likest = likest_of(like)
        found = Enquiry(likest, tool=tool, sure=False) if likest else None
    return found


def _named_first(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    """A word of the glossary that stands alone before a clause that asks what it is: "a chain whip, is that a bar?" """
    if len(sentence.clauses) < 2 or not sentence.asks or sentence.keys[-1] in known.tags:
        return None
    first = sentence.clauses[1]
    for name, number in known.terms.items():
        for start, end in sentence.places.get(number, ()):
            alone = all(key in known.fillers for key in (*sentence.keys[:start], *sentence.keys[end:first]))
            frames = (place for frame in known.what_is for place, _ in sentence.places.get(frame, ()))
            if end <= first and alone and any(place >= first for place in frames):
                return Enquiry("what-is", term=name, own=sentence.part(0, len(sentence.keys)))
    return None


def _about_a_word(sentence: Sentence, known: Enquiries) -> Enquiry | None:
    """A word of the glossary that is asked about: the longest of those that are named, or two told apart."""
    named = {name: sentence.places[number] for name, number in known.terms.items() if number in sentence.places}
    if not named:
        return None
    for (one, other), text in known.differences:
        if one in named and other in named and sentence.asks:
            return Enquiry("what-is", term=text)
    term = max(named, key=lambda name: max((end - start, -start) for start, end in named[name]))
    frames = sorted(known.what_is & sentence.places.keys(), key=lambda frame: frame not in known.plain_what_is)
    for frame in frames if sentence.asks else ():
        covered = _covered(sentence, (known.terms[term], frame))
        close = _close(sentence, known.terms[term], frame)
        if not (close or sentence.marked or sentence.behind):
            continue
        if covered and len(_others(sentence, covered, known)) <= (SPARE_CLOSE if close else SPARE):
            return Enquiry("what-is", term=term, sure=(close or sentence.behind) and frame in known.plain_what_is)
    covered = _covered(sentence, (known.terms[term],))
    if sentence.marked and covered and not _others(sentence, covered, known):
        return Enquiry("what-is", term=term, sure=False)
    return None


def _close(sentence: Sentence, one: int, other: int) -> bool:
    """Whether two patterns stand beside each other, with at most `CLOSE` words between."""
    return any(
        0 <= max(first[0], second[0]) - min(first[1], second[1]) <= CLOSE
        for first in sentence.places[one]
        for second in sentence.places[other]
    )


def _parts(
    sentence: Sentence, covered: frozenset[int], known: Enquiries, sought: Sought | None = None
) -> tuple[str, str]:
    """What of a sentence asks, and what it says before and behind that: "it has 4 notches, can I use a
    hammer?" What follows a request says nothing about the wheel: "can I come at five, I finish at four"."""
    begins, ends = _asking_part(sentence, covered, known)
    if sought is not None:  # what is asked about may stand before that: "a pipe wrench round it, would that do"
        about = [place for place, _ in sentence.places.get(sought.patterns[0], ()) if place in covered]
        first = min(about, default=begins)
        begins = begins if first >= begins else max(place for place in sentence.clauses if place <= first)
    told = [sentence.part(0, begins)] if sentence.keys[0] not in known.openers else []
    behind = sentence.keys[ends:]
    plainly = (sought is None or sought.kind != "order") and not sentence.marked
    if plainly and behind and behind[0] not in known.openers and not _asked_from(sentence, known, ends):
        told.append(sentence.part(ends, len(sentence.keys)))
    return sentence.part(begins, ends), ". ".join(part for part in told if part)


def _asking_part(sentence: Sentence, covered: frozenset[int], known: Enquiries) -> Place:
    """From which word to which a sentence asks: the clause that has words of asking and the most of the enquiry; what
    stands before both in it is no part of that, if it is more than a word."""
    edges = (*sentence.clauses, len(sentence.keys))
    asked = _asked_from(sentence, known, 0)
    rows = [range(*each) for each in pairwise(edges)]
    both = [row for row in rows if any(place in row for place in asked) and any(place in row for place in covered)]
    both = both or [row for row in rows if any(place in row for place in (*asked, *covered))] or [range(edges[-1])]
    part = max(both, key=lambda row: (sum(place in row for place in covered), row.start))
    begins, ends = part.start, part.stop
    inner = min((place for place in (*asked, *covered) if place in part), default=begins)
    return (inner if inner - begins >= SAYING else begins), ends


def _asked_from(sentence: Sentence, known: Enquiries, first: int) -> list[int]:
    """Where words of asking begin, from a word on."""
    places = (start for number in known.asking for start, _ in sentence.places.get(number, ()))
    return [place for place in places if place >= first]


def _covered(sentence: Sentence, patterns: Sequence[int]) -> frozenset[int]:
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


def _strangers(sentence: Sentence, known: Enquiries) -> int:
    """How many words no pattern, no example and no list of ours has."""
    return sum(
        key.isalpha() and key not in known.words and key not in known.fillers and not known.examples.has(key)
        for key in sentence.keys
    )


def _others(sentence: Sentence, covered: frozenset[int], known: Enquiries) -> list[str]:
    """The words that say something and are not covered."""
    return [
        key
        for place, key in enumerate(sentence.keys)
        if place not in covered and key not in known.fillers and not (key.isdigit() and len(key) > 3)
    ]
