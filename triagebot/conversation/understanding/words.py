"""The words files: what they may hold, reading them, and compiling them once into one tree of phrases.

The program's own words are `words/<language>.yaml` beside this package; a topic's are `text/<language>.words.yaml` in its
folder. A language is those two files and nothing else. Patterns are explained in `phrases.py`.
"""

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import yaml
from pydantic import BaseModel, ConfigDict, ValidationError
from rapidfuzz import process
from rapidfuzz.distance import OSA

from triagebot.conversation.understanding.normalise import folded, plain
from triagebot.conversation.understanding.phrases import Kind, Meaning, Node, PatternError, Row, parse, phrases, plant, words_in
from triagebot.conversation.understanding.tokens import is_number, tokenise
from triagebot.conversation.understood import Command
from triagebot.errors import DataError, Problem
from triagebot.topics.schema import Question

Patterns = tuple[str, ...]
Comparison = Literal["above", "just-above", "below", "just-below", "same", "holds", "covers"]
Shape = Literal["radius", "around", "around-if-it-fits"]
Hedge = Literal["about", "under", "over", "least", "most"]
Joint = Literal["to", "or", "between", "tolerance"]

#: Words shorter than this are never taken for a slip of the finger; from `TWO_SLIPS` on, two slips are forgiven.
SPELLED_FROM, TWO_SLIPS = 5, 9


_WILD = re.compile(r"(\*|#|\$$)")


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", "-"))


class CommandWords(_Table):
    """`alone`: the whole message is this; `within`: means the command wherever it stands."""

    alone: Patterns = ()
    within: Patterns = ()


class NumberTables(_Table):
    """`language` is text2num's code for the words it knows; everything else about numbers in words is listed."""

    language: str | None = None
    words: dict[str, float] = {}
    fractions: dict[str, int] = {}
    joints: Patterns = ()
    decimal: Patterns = ()
    minus: Patterns = ()
    articles: Patterns = ()
    ordinals: dict[str, int] = {}
    ordinal_ends: Patterns = ()
    shy: Patterns = ()
    not_numbers: Patterns = ()


class Unit(_Table):
    """`mm`: millimetres in one; `doubtful`: also an ordinary word, a unit only right behind a number that ends there."""

    mm: float
    written: Patterns
    doubtful: Patterns = ()


class Negations(_Table):
    """`near` deny the next word or two, `far` deny what follows in the same clause."""

    near: Patterns = ()
    far: Patterns = ()


class ProgramWords(_Table):
    parts: dict[str, str] = {}
    commands: dict[Command, CommandWords]
    numbers: NumberTables
    units: dict[str, Unit]
    hedges: dict[Hedge, Patterns]
    joints: dict[Joint, Patterns]
    shapes: dict[Shape, Patterns]
    means: dict[str, Patterns]
    comparisons: dict[Comparison, Patterns]
    negations: Negations
    corrections: Patterns
    unsure: Patterns
    breaks: Patterns
    elsewhere: Patterns
    hostile: Patterns
    off_topic: Patterns
    fillers: Patterns
    never_mended: Patterns = ()


class Elsewhere(_Table):
    """`after`: a length right before one of these is not the fitting's. `lengths`: known sizes of other parts, a unit."""

    after: Patterns = ()
    lengths: dict[str, tuple[float, ...]] = {}


class Nouns(_Table):
    """What a number counts or measures. `when_open`: only while that question is open. `totals`: words that may also
    stand for a whole that is larger than the question allows, which is then no answer and no mistake."""

    words: Patterns = ()
    when_open: Patterns = ()
    totals: Patterns = ()


class ChoiceWords(_Table):
    """Phrases that mean a choice wherever they stand, and those that mean it only while its question is open."""

    words: Patterns = ()
    when_open: Patterns = ()


class TopicWords(_Table):
    parts: dict[str, str] = {}
    choices: dict[str, dict[str, ChoiceWords]]
    yes: dict[str, str] = {}
    no: dict[str, str] = {}
    nouns: dict[str, Nouns] = {}
    names: dict[str, Patterns] = {}
    makers: str | None = None
    gauges: dict[str, Patterns] = {}
    mentions: dict[str, Patterns] = {}
    ignore: Patterns = ()
    elsewhere: Elsewhere = Elsewhere()


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """One language of one topic, compiled. Cheap to use, dear to build: load once and keep."""

    language: str
    root: Node
    alone: Mapping[str, Command]
    fillers: frozenset[str]
    ordinals: Mapping[str, int]
    shy: frozenset[str]
    not_numbers: frozenset[str]
    units: Mapping[str, float]
    doubtful_units: frozenset[str]
    elsewhere_lengths: Mapping[str, tuple[float, ...]]
    totals: Mapping[str, frozenset[str]]
    yes: Mapping[str, str]
    no: Mapping[str, str]
    makers: str | None
    topic: TopicWords
    topic_file: str
    number_language: str | None
    number_words: Mapping[tuple[str, ...], float]
    fraction_words: Mapping[str, int]
    number_joints: frozenset[str]
    decimal_words: frozenset[str]
    minus_words: frozenset[str]
    articles: frozenset[str]
    ordinal_ends: frozenset[str]
    length_words: Mapping[str, float]
    vocabulary: frozenset[str] = frozenset()
    never_mended: frozenset[str] = frozenset()
    _by_length: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    _mended: dict[str, str] = field(default_factory=dict)

    def mended(self, word: str) -> str:
        """`word`, or the one known word that it is a slip of the finger away from."""
        if word in self.vocabulary or len(word) < SPELLED_FROM or word in self.never_mended or len(word) > 30:
            return word
        known = self._mended.get(word)
        if known is None:
            if len(self._mended) > 5000:
                self._mended.clear()
            known = self._mended[word] = self._nearest(word)
        return known

    def _nearest(self, word: str) -> str:
        slips = 2 if len(word) >= TWO_SLIPS else 1
        near = [k for n in range(len(word) - slips, len(word) + slips + 1) for k in self._by_length.get(n, ())]
        # The first letter is rarely the wrong one, and insisting on it keeps ordinary words apart.
        near = [k for k in near if k[0] == word[0]]
        best = process.extractOne(word, near, scorer=OSA.distance, score_cutoff=slips)
        return word if best is None else str(best[0])


def load_words(language: str, topic_folder: Path) -> Words:
    """Read and compile the program's and the topic's words of a language. Raises DataError with every problem."""
    program_file = files("triagebot.conversation") / "words" / f"{language}.yaml"
    topic_file = topic_folder / "text" / f"{language}.words.yaml"
    problems: list[Problem] = []
    tables: list[Any] = []
    for name, source, shape in (
        (f"{language}.yaml", program_file, ProgramWords),
        (str(topic_file), topic_file, TopicWords),
    ):
        try:
            text = source.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as fault:
            problems.append(Problem(name, 0, 0, f"cannot be read: {fault}"))
            continue
        try:
            tables.append(shape.model_validate(_read_yaml(text, name)))
        except DataError as fault:
            problems += fault.problems
        except ValidationError as fault:
            problems += [_located(text, name, e["loc"], f"{_path(e['loc'])}: {e['msg']}") for e in fault.errors()]
    if problems:
        raise DataError(topic_folder, tuple(problems))
    try:
        return _compile(language, tables[0], tables[1], str(topic_file))
    except PatternError as fault:
        raise DataError(topic_folder, (Problem(str(topic_file), 0, 0, str(fault)),)) from None


def check_words(words: Words, questions: Mapping[str, Question], gauges: Collection[str]) -> tuple[Problem, ...]:
    """Whether every question, choice and gauge that the topic's words name exists, and every choice has words."""
    topic, wrong = words.topic, []
    named = {
        "choices": topic.choices, "yes": topic.yes, "no": topic.no, "nouns": topic.nouns, "names": topic.names,
        "mentions": topic.mentions,
    }  # fmt: skip
    for table, rows in named.items():
        wrong += [((table, q), f"no question {q!r} in this topic") for q in rows if q not in questions]
    for table, pairs in (("yes", topic.yes), ("no", topic.no)):
        wrong += [((table, q), f"question {q!r} has no choice {c!r}") for q, c in pairs.items() if not _has(questions, q, c)]
    for question, choices in topic.choices.items():
        wrong += [
            (("choices", question, c), f"question {question!r} has no choice {c!r}")
            for c in choices
            if question in questions and not _has(questions, question, c)
        ]
    for question in questions.values():
        missing = set(question.choices) - set(topic.choices.get(question.id, {})) - set(topic.yes.values())
        if question.kind == "choice" and question.id != topic.makers:
            wrong += [(("choices", question.id), f"no words for choice {c!r} of {question.id!r}") for c in sorted(missing)]
    for question_id, nouns in topic.nouns.items():
        if question_id in questions and questions[question_id].kind == "choice":
            wrong.append((("nouns", question_id), f"question {question_id!r} is no number"))
    if topic.makers is not None and topic.makers not in questions:
        wrong.append((("makers",), f"no question {topic.makers!r} in this topic"))
    wrong += [(("gauges", g), f"no gauge {g!r} in this topic") for g in topic.gauges if g not in gauges]
    if not wrong:
        return ()
    text = Path(words.topic_file).read_text(encoding="utf-8")
    return tuple(sorted(_located(text, words.topic_file, place, message) for place, message in wrong))


def _has(questions: Mapping[str, Question], question: str, choice: str) -> bool:
    """Whether the question has that choice; a phrase may stand for a whole number where a question counts."""
    row = questions.get(question)
    return row is None or choice in row.choices or (row.kind == "count" and choice.isdigit())


def _read_yaml(text: str, name: str) -> Any:
    try:
        return yaml.load(text, Loader=yaml.CBaseLoader)
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        raise DataError(name, (Problem(name, line, column, fault.problem or "not YAML"),)) from None
    except yaml.YAMLError as fault:
        raise DataError(name, (Problem(name, 0, 0, f"not YAML: {fault}"),)) from None


def _path(place: Iterable[int | str]) -> str:
    return ".".join(str(step) for step in place)


def _located(text: str, name: str, place: Iterable[int | str], message: str) -> Problem:
    """The problem at the deepest node of `place` that the file has."""
    node = yaml.compose(text, Loader=yaml.CBaseLoader)
    mark = node.start_mark if node else None
    for step in place:
        if isinstance(node, yaml.MappingNode):
            pair = next(((key, value) for key, value in node.value if key.value == str(step)), None)
            if pair is None:
                break
            mark, node = pair[0].start_mark, pair[1]
        elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
            mark = node.start_mark
        else:
            break
    return Problem(name, mark.line + 1 if mark else 0, mark.column + 1 if mark else 0, message)


# --- compiling ----------------------------------------------------------------------------------------------------


def _compile(language: str, program: ProgramWords, topic: TopicWords, topic_file: str) -> Words:
    numbers = program.numbers
    parts = program.parts | topic.parts

    def flat(patterns: Patterns) -> frozenset[str]:
        return frozenset(p for pattern in patterns for p in phrases(parse(pattern, parts, lambda t: folded(t).split())))

    units = {folded(w): unit.mm for unit in program.units.values() for w in (*unit.written, *unit.doubtful)}
    words = Words(
        language=language,
        root=Node(),
        alone={},
        fillers=flat(program.fillers),
        ordinals={folded(w): n for w, n in numbers.ordinals.items()},
        shy=flat(numbers.shy),
        not_numbers=flat(numbers.not_numbers),
        units=units,
        doubtful_units=flat(tuple(w for unit in program.units.values() for w in unit.doubtful)),
        elsewhere_lengths=topic.elsewhere.lengths,
        totals={q: flat(n.totals) for q, n in topic.nouns.items()},
        yes=topic.yes,
        no=topic.no,
        makers=topic.makers,
        topic=topic,
        topic_file=topic_file,
        number_language=numbers.language,
        number_words={tuple(folded(w).split()): value for w, value in numbers.words.items()},
        fraction_words={folded(w): n for w, n in numbers.fractions.items()},
        number_joints=flat(numbers.joints),
        decimal_words=flat(numbers.decimal),
        minus_words=flat(numbers.minus),
        articles=flat(numbers.articles),
        ordinal_ends=flat(numbers.ordinal_ends),
        length_words={w: mm for w, mm in units.items() if w.isalpha()},
    )
    vocabulary: set[str] = set()
    alone: dict[str, Command] = {}

    def read(pattern: str) -> tuple[Row, ...]:
        return parse(pattern, parts, lambda text: _keys(text, words))

    for meaning, pattern in _rows(program, topic):
        rows = read(pattern)
        plant(words.root, rows, meaning)
        vocabulary.update(key for key in words_in(rows) if key.isalpha())
    for command, ways in program.commands.items():
        for pattern in ways.alone:
            alone |= dict.fromkeys(phrases(read(pattern)), command)
    alone.pop("", None)
    vocabulary |= {key for phrase in alone for key in phrase.split()} | set(units) | words.fillers
    vocabulary |= {key for phrase in words.number_words for key in phrase} | set(words.fraction_words)
    return _with_vocabulary(words, vocabulary, alone, flat(program.never_mended))


def _with_vocabulary(words: Words, vocabulary: set[str], alone: dict[str, Command], kept: frozenset[str]) -> Words:
    by_length: dict[int, list[str]] = {}
    for word in sorted(vocabulary):
        if len(word) >= SPELLED_FROM - 1 and word not in words.fillers:
            by_length.setdefault(len(word), []).append(word)
    return replace(
        words,
        alone=alone,
        vocabulary=frozenset(vocabulary),
        never_mended=kept,
        _by_length={length: tuple(row) for length, row in by_length.items()},
    )


def _keys(text: str, words: Words) -> list[str]:
    """Plain text of a pattern as the keys that its tokens will have in a message; wild cards stay themselves."""
    keys: list[str] = []
    for piece in _WILD.split(folded(text)):
        piece = piece.strip()
        if piece in ("*", "#", "$") or (len(piece) == 1 and not piece.isalnum()):
            keys.append(piece)
        elif piece.replace(" ", "").isalpha() and not _has_number(piece, words):
            keys += piece.split()
        elif piece:
            keys += [token.key for token in tokenise(plain(piece), words)]
    return keys


def _has_number(part: str, words: Words) -> bool:
    known = {word for phrase in words.number_words for word in phrase} | set(words.fraction_words)
    return any(word in known or is_number(word, words) for word in part.split())


def _rows(program: ProgramWords, topic: TopicWords) -> Iterator[tuple[Meaning, str]]:
    """Every pattern with what it means."""

    def each(kind: Kind, patterns: Patterns, subject: str = "", value: str = "", when_open: bool = False) -> Iterator[tuple[Meaning, str]]:
        meaning = Meaning(kind, subject, value, when_open)
        return ((meaning, pattern) for pattern in patterns)

    for command, ways in program.commands.items():
        yield from each("command", ways.within, command)
    for kind, table in (
        ("hedge", program.hedges), ("joint", program.joints), ("shape", program.shapes), ("means", program.means),
        ("comparison", program.comparisons), ("name", topic.names), ("gauge", topic.gauges), ("mention", topic.mentions),
    ):  # fmt: skip
        for subject, patterns in table.items():
            yield from each(kind, patterns, subject)  # type: ignore[arg-type]
    for kind, patterns in (
        ("correction", program.corrections), ("unsure", program.unsure), ("break", program.breaks),
        ("elsewhere", program.elsewhere + topic.elsewhere.after), ("hostile", program.hostile),
        ("off-topic", program.off_topic), ("ignore", topic.ignore),
    ):  # fmt: skip
        yield from each(kind, patterns)  # type: ignore[arg-type]
    yield from each("negation", program.negations.near, "near")
    yield from each("negation", program.negations.far, "far")
    for question, choices in topic.choices.items():
        for choice, ways in choices.items():
            yield from each("choice", ways.words, question, choice)
            yield from each("choice", ways.when_open, question, choice, True)
    for question, nouns in topic.nouns.items():
        yield from each("noun", nouns.words + nouns.totals, question)
        yield from each("noun", nouns.when_open, question, "", True)


@lru_cache(maxsize=8)
def languages() -> tuple[str, ...]:
    """Languages that the program has words for."""
    folder = files("triagebot.conversation") / "words"
    return tuple(sorted(f.name.removesuffix(".yaml") for f in folder.iterdir() if f.name.endswith(".yaml")))


