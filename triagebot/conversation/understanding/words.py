"""The words of one language of one topic, compiled once: one tree of phrases, tables of numbers and units, spelling."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import TYPE_CHECKING

from triagebot.conversation.understanding.lexicon import Patterns, ProgramWords, Sureness, TopicWords
from triagebot.conversation.understanding.normalise import folded, plain
from triagebot.conversation.understanding.phrases import (
    Kind,
    Node,
    PatternError,
    PhraseMeaning,
    Row,
    parse,
    phrases,
    plant,
    words_in,
)
from triagebot.conversation.understanding.tokens import is_number, tokenise
from triagebot.conversation.understood import Command

if TYPE_CHECKING:
    from triagebot.conversation.understanding.guess import Guess

#: Words shorter than this are never taken for a slip of the finger; from `SURE_FROM` on one slip is surely one, and
#: from `TWO_SLIPS` on two are forgiven.
SPELLED_FROM, SURE_FROM, TWO_SLIPS = 3, 4, 9
#: Words of motion are many and common; from this length on other words are taken for slips of them.
MENDED_FROM = 6
#: No slip of the finger is taken for one of these.
NEVER_MEANT = frozenset({"hostile", "off-topic", "other"})
#: Value of a phrase of not knowing that takes back what was said before it.
AFTER_ALL = "after-all"
_WILD = re.compile(r"(\*|#|\$$)")


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Words:
    """One language of one topic, compiled. Cheap to use, dear to build: load once and keep."""

    language: str
    root: Node
    scopes: Node
    openings: Node
    motion: Mapping[str, Node]
    alone: Mapping[str, Command]
    agreeing: Mapping[str, Command]
    """`alone`, and what agrees or declines only where nothing is asked or something is to be confirmed."""
    fillers: frozenset[str]
    picking: frozenset[str]
    subjects: frozenset[str]
    opening_fillers: frozenset[str]
    turning: frozenset[str]
    adding: frozenset[str]
    beginning: frozenset[str]
    pronouns: frozenset[str]
    mine: frozenset[str]
    at_the_front: frozenset[str]
    linking: frozenset[str]
    beyond: frozenset[str]
    leads: frozenset[str]
    asking: frozenset[str]
    later: frozenset[str]
    own_counts: Mapping[tuple[str, str], Mapping[str, tuple[int, ...]]]
    no_counts: Mapping[tuple[str, str], frozenset[str]]
    beside: Mapping[str, frozenset[str]]
    counted: frozenset[str]
    covers: Mapping[str, frozenset[str]]
    finer: Mapping[str, Mapping[str, Patterns]]
    denied: Mapping[str, Mapping[str, Patterns]]
    single: Mapping[str, frozenset[str]]
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
    common_words: str = "\n"
    guess: "Guess | None" = None
    _by_length: Mapping[tuple[bool, int], tuple[str, ...]] = field(default_factory=dict)
    _mended: dict[str, tuple[str, bool]] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"Words({self.language!r})"

    def mended(self, word: str) -> tuple[str, bool]:
        """`word`, or the known word that it is a slip of the finger away from; and whether that is sure."""
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

    def common(self, word: str) -> bool:
        """Whether it is an ordinary word of the language."""
        return f"\n{word}\n" in self.common_words

    def _nearest(self, word: str) -> tuple[str, bool]:
        """A word with two letters changed over goes first, then the likeliest; of equals the topic's word before
        a little word of the language."""
        same_length = (k for little in (False, True) for k in self._by_length.get((little, len(word)), ()))
        swapped = next((k for k in same_length if _swapped(word, k)), None)
        if swapped is not None:
            return swapped, True
        near = range(len(word) - _slips(word), len(word) + _slips(word) + 1)
        found = [
            known
            for little in (False, True)
            if (known := _nearest_of(word, (k for n in near for k in self._by_length.get((little, n), ()))))
        ]
        # Letters that changed places go before others, and a likelier little word before the topic's ("teh").
        return max(found, key=lambda known: _likeness(word, known[0]), default=(word, True))

    def slip_of(self, word: str, known: Iterable[str]) -> str | None:
        """The one of `known` that `word`, itself no known word, is a slip of the finger away from."""
        if word in self.vocabulary or not SURE_FROM <= len(word) <= 30:
            return None
        found = _nearest_of(word, (k for k in known if abs(len(k) - len(word)) <= _slips(word)))
        return None if found is None else found[0]


def _swapped(word: str, known: str) -> bool:
    """Whether two letters beside each other changed places: "teh"."""
    apart = [at for at in range(len(word)) if word[at] != known[at]]
    return len(apart) == 2 and apart[1] == apart[0] + 1 and sorted(word) == sorted(known)


def _slips(word: str) -> int:
    return 2 if len(word) >= TWO_SLIPS else 1


def _likeness(word: str, known: str) -> tuple[bool, float]:
    from rapidfuzz import fuzz

    return sorted(word) == sorted(known), fuzz.ratio(word, known)


def _nearest_of(word: str, known: Iterable[str]) -> tuple[str, bool] | None:
    """The word of `known` at the fewest slips, at most `_slips(word)`, of several the likest; and whether it is sure:
    one slip in a long word, or two letters that changed places."""
    # The first letter is rarely the wrong one, and insisting on it keeps ordinary words apart.
    near = [k for k in known if k[:1] == word[0]]
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


def compile_words(
    language: str, program: ProgramWords, topic: TopicWords, topic_file: str, common: str = "\n"
) -> Words:
    numbers = program.numbers
    parts = program.parts | topic.parts

    def flat(patterns: Patterns) -> frozenset[str]:
        return frozenset(p for pattern in patterns for p in phrases(parse(pattern, parts, lambda t: folded(t).split())))

    units = {folded(w): unit.mm for unit in program.units.values() for w in (*unit.written, *unit.doubtful)}
    words = Words(
        language=language,
        root=Node(),
        scopes=Node(),
        openings=Node(),
        motion={question: Node() for question in topic.motion},
        alone={},
        agreeing={},
        fillers=flat(program.fillers),
        picking=frozenset(word for phrase in flat(program.picking) for word in phrase.split()),
        subjects=flat(program.subjects),
        opening_fillers=flat(program.opening_fillers),
        turning=flat(program.turning),
        adding=flat(program.adding),
        beginning=flat(program.beginning),
        pronouns=flat(program.pronouns),
        mine=flat(program.mine),
        at_the_front=flat(program.at_the_front),
        linking=flat(program.linking),
        beyond=flat(program.beyond),
        leads=flat(program.leads),
        asking=flat(program.asking),
        later=flat(program.later),
        own_counts={(q, c): counts for q, row in topic.own_counts.items() for c, counts in row.items()},
        no_counts={(q, c): frozenset(lost) for q, row in topic.no_counts.items() for c, lost in row.items()},
        beside={question: frozenset(row) for question, row in topic.beside.items()},
        counted=frozenset(topic.counted),
        covers={question: frozenset(row) for question, row in topic.covers.items()},
        finer=topic.finer,
        denied=topic.denied,
        single={question: frozenset(row) for question, row in topic.single.items()},
        pairs={word: question for question, row in topic.pairs.items() for word in flat(row)},
        ordinals={folded(w): n for w, n in numbers.ordinals.items()},
        shy=flat(numbers.shy),
        none=flat(numbers.none),
        heard=numbers.heard,
        sure_heard=flat(numbers.sure_heard),
        introducing=flat(numbers.introducing),
        pointing=flat(numbers.pointing),
        concluding=flat(numbers.concluding),
        multiplying=flat(numbers.multiplying),
        earlier=flat(numbers.earlier),
        denials=flat(program.negations.near + program.negations.far),
        not_numbers=flat(numbers.not_numbers),
        units=units,
        doubtful_units=flat(tuple(w for unit in program.units.values() for w in unit.doubtful)),
        elsewhere_lengths=topic.elsewhere.lengths,
        totals={q: flat(n.totals) for q, n in topic.nouns.items()},
        yes=topic.yes,
        no=topic.no,
        either_or=frozenset(topic.either_or),
        makers=topic.makers,
        topic=topic,
        topic_file=topic_file,
        sureness=program.sureness,
        spelt_numbers=flat(numbers.spelt),
        number_language=numbers.language,
        number_words={tuple(folded(w).split()): value for w, value in numbers.words.items()},
        never_numbers=flat(numbers.never),
        fraction_words={folded(w): n for w, n in numbers.fractions.items()},
        number_joints=flat(numbers.joints),
        decimal_words=flat(numbers.decimal),
        minus_words=flat(numbers.minus),
        articles=flat(numbers.articles),
        ordinal_ends=flat(numbers.ordinal_ends),
        length_words={w: mm for w, mm in units.items() if w.isalpha()},
        common_words=common,
    )
    vocabulary: set[str] = set()
    unmended: set[str] = set()
    kept = flat(program.never_mended)
    moving: set[str] = set()
    alone: dict[str, Command] = {}
    agreeing: dict[str, Command] = {}

    numbers_known = frozenset(key for phrase in words.number_words for key in phrase) | frozenset(words.fraction_words)

    @cache  # the same few words stand in many patterns
    def keys(text: str) -> list[str]:
        return _keys(text, words, numbers_known)

    def read(pattern: str) -> tuple[Row, ...]:
        return parse(pattern, parts, keys)

    for meaning, pattern in _rows(program, topic):
        rows = read(pattern)
        plant(words.root, rows, meaning)
        (unmended if meaning.kind in NEVER_MEANT else vocabulary).update(k for k in words_in(rows) if k.isalpha())
    spoken: set[str] = set()
    for root, tables in (
        (words.scopes, (program.scopes, topic.scopes)),
        (words.openings, (program.openings, topic.openings)),
    ):
        for scope, patterns in (row for table in tables for row in table.items()):
            for pattern in patterns:
                rows = read(pattern)
                if "" in words_in(rows):
                    raise PatternError(f"{pattern!r}: has a code in it, and codes are not told apart in messages")
                plant(root, rows, PhraseMeaning("scope", scope))
                spoken.update(words_in(rows))
    for question, motion in topic.motion.items():
        for term, patterns in motion.terms.items():
            for pattern in patterns:
                rows = read(pattern)
                plant(words.motion[question], rows, PhraseMeaning("motion", term))
                moving.update(k for k in words_in(rows) if k.isalpha())
    for command, ways in program.commands.items():
        for pattern in ways.alone:
            alone |= dict.fromkeys(phrases(read(pattern)), command)
        for pattern in ways.confirming:
            agreeing |= dict.fromkeys(phrases(read(pattern)), command)
    alone.pop("", None)
    agreeing |= alone
    vocabulary |= {key for phrase in agreeing for key in phrase.split()} | set(units) | words.fillers
    vocabulary |= (
        frozenset(numbers.heard)
        | words.introducing
        | numbers_known
        | flat(numbers.spelt)
        | words.not_numbers
        | words.ordinal_ends
    )
    return _with_vocabulary(words, vocabulary, unmended, alone, agreeing, kept | moving | spoken, moving)


def _with_vocabulary(
    words: Words,
    vocabulary: set[str],
    unmended: set[str],
    alone: dict[str, Command],
    agreeing: dict[str, Command],
    kept: frozenset[str],
    moving: set[str],
) -> Words:
    by_length: dict[tuple[bool, int], list[str]] = {}
    long = {word for word in moving if len(word) >= MENDED_FROM}
    for word in sorted(vocabulary | long):
        if len(word) >= SPELLED_FROM:
            by_length.setdefault((word in words.fillers, len(word)), []).append(word)
    return replace(
        words,
        alone=alone,
        agreeing=agreeing,
        vocabulary=frozenset(vocabulary | unmended),
        never_mended=kept,
        _by_length={key: tuple(row) for key, row in by_length.items()},
    )


def _keys(text: str, words: Words, numbers: frozenset[str]) -> list[str]:
    """Plain text of a pattern as the keys that its tokens will have in a message; wild cards stay themselves."""
    keys: list[str] = []
    for piece in map(str.strip, _WILD.split(folded(text))):
        if piece in ("*", "#", "$") or (len(piece) == 1 and not piece.isalnum()):
            keys.append(piece)
        elif piece.replace(" ", "").isalpha() and not _has_number(piece, words, numbers):
            keys += piece.split()
        elif piece:
            keys += [token.key for token in tokenise(plain(piece), words)]
    return keys


def _has_number(part: str, words: Words, numbers: frozenset[str]) -> bool:
    return any(word in numbers or is_number(word, words) for word in part.split())


def _rows(program: ProgramWords, topic: TopicWords) -> Iterator[tuple[PhraseMeaning, str]]:
    """Every pattern with what it means."""
    by_subject: tuple[tuple[Kind, Iterable[tuple[str, Patterns]]], ...] = (
        ("command", [(command, ways.within) for command, ways in program.commands.items()]),
        ("hedge", program.hedges.items()),
        ("joint", program.joints.items()),
        ("shape", program.shapes.items()),
        ("means", program.means.items()),
        ("share", [(str(parts), row) for parts, row in program.shares.items()]),
        ("lone-share", [(str(parts), row) for parts, row in program.lone_shares.items()]),
        ("comparison", program.comparisons.items()),
        ("negation", [("near", program.negations.near), ("far", program.negations.far)]),
        ("name", topic.names.items()),
        ("gauge", topic.gauges.items()),
        ("mention", topic.mentions.items()),
        ("withdraw", topic.withdrawn.items()),
        ("unsure", topic.cannot.items()),
        ("noun", [(question, nouns.words + nouns.totals) for question, nouns in topic.nouns.items()]),
    )
    for kind, table in by_subject:
        yield from ((PhraseMeaning(kind, subject), pattern) for subject, row in table for pattern in row)
    single: tuple[tuple[Kind, Patterns], ...] = (
        ("correction", program.corrections),
        ("unsure", program.unsure),
        ("insists", program.insists),
        ("break", program.breaks),
        ("counter", program.counters),
        ("elsewhere", program.elsewhere + topic.elsewhere.after),
        ("hostile", program.hostile),
        ("off-topic", program.off_topic),
        ("ignore", program.ignore + topic.ignore),
        ("other", topic.others),
    )
    yield from ((PhraseMeaning("unsure", value=AFTER_ALL), pattern) for pattern in program.unsure_after_all)
    for kind, patterns in single:
        yield from ((PhraseMeaning(kind), pattern) for pattern in patterns)
    for question, patterns in topic.cannot_when_open.items():
        yield from ((PhraseMeaning("unsure", question, when_open=True), pattern) for pattern in patterns)
    for question, nouns in topic.nouns.items():
        yield from ((PhraseMeaning("noun", question, when_open=True), pattern) for pattern in nouns.when_open)
    for question, choices in topic.choices.items():
        for choice, ways in choices.items():
            yield from ((PhraseMeaning("choice", question, choice), pattern) for pattern in ways.words)
            yield from ((PhraseMeaning("choice", question, choice, True), pattern) for pattern in ways.when_open)
            yield from ((PhraseMeaning("choice", question, choice, bound="loose"), pattern) for pattern in ways.loose)
            yield from ((PhraseMeaning("choice", question, choice, bound="echo"), pattern) for pattern in ways.echo)
            yield from ((PhraseMeaning("choice", question, choice, bound="beside"), pattern) for pattern in ways.beside)
    for question, counts in topic.counted.items():
        for count, choices_counted in counts.items():
            known = topic.choices.get(question, {})
            for ways in (known[choice] for choice in choices_counted if choice in known):
                yield from ((PhraseMeaning("noun", count), pattern) for pattern in ways.words)
                yield from ((PhraseMeaning("noun", count, when_open=True), pattern) for pattern in ways.when_open)
