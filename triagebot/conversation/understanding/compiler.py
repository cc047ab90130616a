"""How the words files of a language and a topic become `Words`, once, when they are loaded.

Rules of this file: which pattern of the files means what, and which words a slip of the finger may be taken for.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache
from sys import intern

from triagebot.conversation.understanding.lexicon import Patterns, ProgramWords, TopicWords
from triagebot.conversation.understanding.normalise import folded, plain
from triagebot.conversation.understanding.number_words import tokenise
from triagebot.conversation.understanding.phrases import (
    Kind,
    PatternError,
    PhraseMeaning,
    Root,
    Row,
    parse,
    phrases,
    plant,
    words_in,
)
from triagebot.conversation.understanding.words import AFTER_ALL, FOR_NOW, OTHER_TRADE, SPELLED_FROM, Words
from triagebot.conversation.understood import Command

#: Words of motion are many and common; from this length on other words are taken for slips of them.
MENDED_FROM = 6
#: No slip of the finger is taken for one of these.
NEVER_MEANT = frozenset({"hostile", "off-topic", "other"})
_WILD = re.compile(r"(\*|#|\$$)")


def compile_words(
    language: str, program: ProgramWords, topic: TopicWords, topic_file: str, common: str = "\n"
) -> Words:
    numbers = program.numbers
    parts = program.parts | topic.parts

    def flat(patterns: Patterns) -> frozenset[str]:
        if any("(" in pattern or "<" in pattern or "|" in pattern for pattern in patterns):
            rows = (parse(pattern, parts, lambda text: folded(text).split()) for pattern in patterns)
            return frozenset(phrase for each in rows for phrase in phrases(each))
        return frozenset(" ".join(folded(pattern).split()) for pattern in patterns)

    units = {folded(w): unit.mm for unit in program.units.values() for w in (*unit.written, *unit.doubtful)}
    words = Words(
        language=language,
        root=Root(),
        scopes=Root(),
        openings=Root(),
        corrections=Root(),
        wavering=Root(),
        motion={question: Root() for question in topic.motion},
        alone={},
        agreeing={},
        fillers=flat(program.fillers),
        picking=frozenset(word for phrase in flat(program.picking) for word in phrase.split()),
        subjects=flat(program.subjects),
        tellers=flat(program.tellers),
        opening_fillers=flat(program.opening_fillers),
        turning=flat(program.turning),
        adding=flat(program.adding),
        beginning=flat(program.beginning),
        pronouns=flat(program.pronouns),
        measured_parts=flat(program.measured_parts),
        compared_things=flat(program.compared_things),
        mine=flat(program.mine),
        at_the_front=flat(program.at_the_front),
        linking=flat(program.linking),
        beyond=flat(program.beyond),
        handling=flat(program.handling),
        leads=flat(program.leads),
        asking=flat(program.asking),
        asking_anew=flat(program.asking_anew),
        asked_by=flat(program.asked_by),
        interrogatives=frozenset(row.split()[0] for row in flat(program.asking_anew)) - flat(program.asking),
        opining=flat(program.opining),
        predicates=flat(program.predicates),
        assuring=flat(program.assuring),
        conditions=flat(program.conditions),
        acknowledging=flat(program.acknowledging),
        said_heard=flat(program.heard),
        instruments=flat(tuple(row for means, way in program.means.items() if means != "eye" for row in way)),
        later=flat(program.later),
        whole_only=flat(program.whole_only),
        own_counts={(q, c): counts for q, row in topic.own_counts.items() for c, counts in row.items()},
        no_counts={(q, c): frozenset(lost) for q, row in topic.no_counts.items() for c, lost in row.items()},
        beside={question: frozenset(row) for question, row in topic.beside.items()},
        counted=frozenset(topic.counted),
        covers={question: frozenset(row) for question, row in topic.covers.items()},
        uncovers={question: frozenset(row) for question, row in topic.uncovers.items()},
        covers_most=topic.covers_most,
        finer=topic.finer,
        denied=topic.denied,
        own_sizes=frozenset(topic.own_sizes),
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
        counting=flat(numbers.counting),
        stating=flat(numbers.stating),
        circumstances=flat(numbers.circumstances),
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
        spelt_numbers=flat(numbers.spelt),
        sureness=program.sureness,
        dialect=program.dialect,
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
    kept = flat(program.never_mended)
    alone: dict[str, Command] = {}
    agreeing: dict[str, Command] = {}

    numbers_known, keys = _numbers_of(words), pattern_keys(words)
    taken_apart: dict[str, tuple[Row, ...]] = {}

    def read(pattern: str) -> tuple[Row, ...]:
        return parse(pattern, parts, keys, taken_apart)

    mended_rows: list[Row] = []
    other_rows: list[Row] = []
    for meaning, pattern in _rows(program, topic):
        rows = read(pattern)
        plant(words.root, rows, meaning)
        if meaning.kind == "correction":
            plant(words.corrections, rows, meaning)
        (other_rows if meaning.kind in NEVER_MEANT else mended_rows).extend(rows)
    spoken_rows: list[Row] = []
    for root, tables in (
        (words.scopes, (program.scopes, topic.scopes)),
        (words.openings, (program.openings, topic.openings)),
    ):
        for scope, patterns in (row for table in tables for row in table.items()):
            for pattern in patterns:
                rows = read(pattern)
                if _CODE.search(pattern) and "" in words_in(rows):
                    raise PatternError(f"{pattern!r}: has a code in it, and codes are not told apart in messages")
                plant(root, rows, PhraseMeaning("scope", scope))
                spoken_rows += rows
    for question, patterns in topic.wavering.items():
        for pattern in patterns:
            rows = read(pattern)
            plant(words.wavering, rows, PhraseMeaning("wavering", question))
            spoken_rows += rows
    moving_rows: list[Row] = []
    for question, motion in topic.motion.items():
        for term, patterns in motion.terms.items():
            for pattern in patterns:
                rows = read(pattern)
                plant(words.motion[question], rows, PhraseMeaning("motion", term))
                moving_rows += rows
    command_rows: list[Row] = []
    for command, ways in program.commands.items():
        for patterns, meant in ((ways.alone, alone), (ways.confirming, agreeing)):
            for pattern in patterns:
                rows = read(pattern)
                command_rows += rows
                meant.update(dict.fromkeys(phrases(rows), command))
    alone.pop("", None)
    agreeing |= alone
    vocabulary, unmended, moving = (
        {key for key in words_in(rows) if key.isalpha()} for rows in (mended_rows, other_rows, moving_rows)
    )
    vocabulary |= words_in(command_rows) | set(units) | words.fillers
    vocabulary |= (
        frozenset(numbers.heard)
        | words.introducing
        | numbers_known
        | flat(numbers.spelt)
        | words.not_numbers
        | words.ordinal_ends
    )
    return _with_vocabulary(words, vocabulary, unmended, alone, agreeing, kept | moving | words_in(spoken_rows), moving)


def _with_vocabulary(
    words: Words,
    vocabulary: set[str],
    unmended: set[str],
    alone: dict[str, Command],
    agreeing: dict[str, Command],
    kept: frozenset[str],
    moving: set[str],
) -> Words:
    by_length: dict[tuple[bool, int, str], list[str]] = {}
    long = {word for word in moving if len(word) >= MENDED_FROM}
    for word in sorted(vocabulary | long):
        if len(word) >= SPELLED_FROM:
            by_length.setdefault((word in words.fillers, len(word), word[0]), []).append(word)
    return replace(
        words,
        alone=alone,
        agreeing=agreeing,
        vocabulary=frozenset(vocabulary | unmended),
        never_mended=kept,
        by_length={key: tuple(row) for key, row in by_length.items()},
    )


def pattern_keys(words: Words) -> Callable[[str], list[str]]:
    """What cuts plain text of a pattern into keys; it remembers, since the same few words stand in many patterns."""
    numbers = _numbers_of(words)
    return cache(lambda text: _keys(text, words, numbers))


def _numbers_of(words: Words) -> frozenset[str]:
    return frozenset(key for phrase in words.number_words for key in phrase) | frozenset(words.fraction_words)


def _keys(text: str, words: Words, numbers: frozenset[str]) -> list[str]:
    """Plain text of a pattern as the keys that its tokens will have in a message; wild cards stay themselves."""
    bare = text.split()
    simple = text.isascii() and text.islower() and len(text) > 1 and "".join(bare).isalpha()
    if simple and not any(word in numbers or word in words.spelt_numbers for word in bare):
        return list(map(intern, bare))  # the same word stands in many patterns
    keys: list[str] = []
    for piece in map(str.strip, _WILD.split(folded(text))):
        if piece in ("*", "#", "$") or (len(piece) == 1 and not piece.isalnum()):
            keys.append(piece)
        elif piece.replace(" ", "").isalpha() and not _has_number(piece, words, numbers):
            keys += piece.split()
        elif piece:
            keys += [token.key for token in tokenise(plain(piece), words)]
    return keys


#: Letters and digits beside each other: what may be cut up as a code.
_CODE = re.compile(r"[a-z]\d|\d[a-z]")


def _has_number(part: str, words: Words, numbers: frozenset[str]) -> bool:
    return any(word in numbers or word in words.spelt_numbers for word in part.split())


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
    yield from ((PhraseMeaning("unsure", value=FOR_NOW), pattern) for pattern in program.unsure_for_now)
    yield from ((PhraseMeaning("off-topic", value=OTHER_TRADE), pattern) for pattern in program.other_trades)
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
