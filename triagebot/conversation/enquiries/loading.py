"""Reading the files of enquiries: the program's `words/<language>.yaml` beside this module, and a topic's
`text/<language>.enquiries.yaml`, which may be missing. They are read when something is first asked."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import yaml
from pydantic import ValidationError

from triagebot.compiled import compiled
from triagebot.conversation.enquiries.known import Enquiries, Sought
from triagebot.conversation.enquiries.lexicon import TOMORROW, WEEKEND, EnquiryWords, Ways
from triagebot.conversation.enquiries.named_days import DayWords
from triagebot.conversation.enquiries.when import Times
from triagebot.conversation.understanding.model import load_guess
from triagebot.conversation.understanding.phrases import PatternError, PhraseMeaning, Root, parse, plant, words_in
from triagebot.conversation.understanding.phrases import Row as Parsed
from triagebot.errors import DataError, Problem
from triagebot.shop import fold

#: Where the program's own files lie.
PROGRAM = Path(__file__).resolve().parent / "words"
#: What makes `Enquiries` of them: this room, and how the shop's room folds words.
CODE = tuple(Path(__file__).resolve().parents[level] / room for level, room in ((1, ""), (2, "shop")))
_NOTHING = EnquiryWords()
#: "Is that a spline?" may tell what somebody sees, which "what is a spline?" does not.
_CONFIRMING = re.compile(r"\(?(is|are)\b")


@lru_cache(maxsize=8)
def load_enquiries(language: str, topic_folder: Path) -> Enquiries:
    """How people ask in a language; nothing where neither file is there. Raises DataError."""
    files = [file for file in _files(language, topic_folder) if file.exists()]
    try:
        texts = [file.read_text(encoding="utf-8") for file in files]
    except (OSError, UnicodeDecodeError):
        texts = []  # read once more below, which says what is wrong with which file

    def compile_them() -> Enquiries:
        program, topic = (_read(file) for file in _files(language, topic_folder))
        try:
            return _Compiler(program, topic).enquiries()
        except PatternError as fault:
            file = _files(language, topic_folder)[1]
            raise DataError(topic_folder, (Problem(str(file), 0, 0, str(fault)),)) from None

    known = compiled(f"enquiries-{language}", (*(file.name for file in files), *texts), CODE, compile_them)
    return replace(known, learned=load_guess(topic_folder / "text" / f"{language}.asked.guess"))


def check_enquiries(language: str, topic_folder: Path, removers: Iterable[str] = ()) -> tuple[Problem, ...]:
    """What keeps the files from being read, words that are told apart and stand in no glossary, and removers that have
    no words under `tools`, so that nobody can ask about them."""
    try:
        topic = _read(file := _files(language, topic_folder)[1])
        load_enquiries(language, topic_folder)
    except DataError as fault:
        return fault.problems
    named = dict.fromkeys(name for row in topic.differences for name in row.of if name not in topic.glossary)
    lacking = [f"differences: no word {name!r} in the glossary" for name in named]
    if file.exists():
        lacking += [f"tools: no words for the remover {name!r}" for name in removers if name not in topic.tools]
    return tuple(Problem(str(file), 0, 0, message) for message in lacking)


def _files(language: str, topic_folder: Path) -> tuple[Path, Path]:
    return PROGRAM / f"{language}.yaml", topic_folder / "text" / f"{language}.enquiries.yaml"


def _read(file: Path) -> EnquiryWords:
    if not file.exists():
        return _NOTHING
    try:
        return EnquiryWords.model_validate(yaml.load(file.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader))
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as fault:
        raise DataError(file.parent, (Problem(str(file), 0, 0, f"cannot be read: {fault}"),)) from None
    except ValidationError as fault:
        rows = (Problem(str(file), 0, 0, f"{'.'.join(map(str, e['loc']))}: {e['msg']}") for e in fault.errors())
        raise DataError(file.parent, tuple(rows)) from None


def keys_of(text: str) -> list[str]:
    """Plain text of a pattern as the words that it will meet; wild cards stay themselves."""
    return [key for piece in text.split() for key in ([piece] if _simple(piece) else fold(piece).split())]


def _simple(piece: str) -> bool:
    """Whether it is written as it is compared: small plain letters, or a wild card."""
    return piece in ("*", "#", "$") or (piece.isascii() and piece.isalnum() and piece.islower())


class _Compiler:
    """Makes one `Enquiries` of both files. Every pattern is hung once, by a number of its own."""

    def __init__(self, program: EnquiryWords, topic: EnquiryWords) -> None:
        self.program, self.topic = program, topic
        tools = [word for words in topic.tools.values() for word in words]
        self.parts = {"named-tool": "|".join(tools) or "tool", **program.parts, **topic.parts}
        self.root = Root()
        self.numbers: dict[str, int] = {}
        self.words: set[str] = set()
        self.taken_apart: dict[str, tuple[Parsed, ...]] = {}

    def enquiries(self) -> Enquiries:
        asking = frozenset(self.hang(pattern) for pattern in self.program.asking)
        weakly = frozenset(self.hang(pattern) for pattern in self.program.asking_weakly)
        wishing = frozenset(self.hang(pattern) for pattern in self.program.wishing)
        terms = {name: self.hang(_one_of(term.words)) for name, term in self.topic.glossary.items()}
        what_is = [self.hang(pattern) for pattern in self.topic.what_is]
        plain = [self.hang(pattern) for pattern in self.topic.what_is if not _CONFIRMING.match(pattern)]
        tables = {**self.program.enquiries, **self.topic.enquiries}
        sought = [row for name, ways in tables.items() for row in self._ways(name, ways)]
        tools = {name: self.hang(_one_of(words)) for name, words in self.topic.tools.items()}
        return Enquiries(
            root=self.root,
            sought=tuple(sought),
            asking=asking | weakly,
            forming=asking | wishing,
            openers=_flat(self.program.openers),
            question_words=_flat(self.program.question_words),
            auxiliaries=_flat(self.program.auxiliaries),
            subjects=_flat(self.program.subjects),
            joints=_flat(self.program.joints),
            tags=_flat(self.program.tags),
            leads=_flat(self.program.leads),
            fillers=_flat(self.program.fillers),
            vocabulary=frozenset(word for word in self.words if word.isalpha() and len(word) >= 4),
            words=frozenset(self.words),
            asked_about=frozenset(word for term in self.topic.glossary.values() for word in term.words),
            days=self._days(),
            times=Times(self.program.today, self.program.day_parts),
            orders=_flat(self.program.order_words),
            shut=_flat(self.program.shut_words),
            not_shut=_flat(self.program.not_shut),
            terms=terms,
            what_is=frozenset(what_is),
            directly=frozenset(self.hang(pattern) for pattern in self.program.directly),
            directly_behind=frozenset(self.hang(pattern) for pattern in self.program.directly_behind),
            asking_it=frozenset(self.hang(pattern) for pattern in self.program.asking_it),
            lacking=_flat(self.program.lacking),
            meanwhile=_flat(self.program.meanwhile),
            telling=_flat(self.program.telling),
            plain_what_is=frozenset(plain),
            the_job=frozenset(self.hang(pattern) for pattern in self.topic.the_job),
            differences=tuple((row.of, row.text) for row in self.topic.differences),
            pictures={name: term.picture for name, term in self.topic.glossary.items() if term.picture},
            tools=tools,
            says={name: ways.says for name, ways in tables.items() if ways.says},
            first=frozenset(name for name, ways in tables.items() if ways.first),
            about={name: ways.about for name, ways in tables.items() if ways.about},
            patterns={name: self._words(ways) for name, ways in tables.items()},
            told=frozenset(name for name, ways in tables.items() if ways.told),
            work=frozenset(name for name, ways in tables.items() if ways.work),
            leaning=frozenset(name for name, ways in tables.items() if ways.leans),
            like=tuple((name, example) for name, ways in tables.items() for example in ways.like),
        )

    def _days(self) -> DayWords:
        """Words that name days."""
        said = self.program
        tables = (*enumerate(said.weekdays), (WEEKEND, said.weekend), (TOMORROW, said.tomorrow))
        return DayWords(
            days={word: day for day, words in tables for word in words},
            ordinals={word: day for day, word in enumerate(said.ordinals, 1)},
            months={word: month for month, words in enumerate(said.months, 1) for word in words},
            feasts={tuple(fold(feast).split()): when for feast, when in said.feasts.items()},
            next=_flat(said.next_day),
            after=_flat(said.day_after),
        )

    def _ways(self, name: str, ways: Ways) -> Iterator[Sought]:
        for pattern in ways.alone:
            yield Sought(name, (self.hang(pattern),), "alone")
        for kind, rows in (("row", ways.rows), ("stated", ways.stated), ("order", ways.orders)):
            for row in rows:
                yield Sought(name, tuple(self.hang(pattern) for pattern in row), kind)  # type: ignore[arg-type]

    def _words(self, ways: Ways) -> frozenset[str]:
        """All words of its patterns."""
        patterns = [*ways.alone, *(each for row in (*ways.rows, *ways.stated, *ways.orders) for each in row)]
        return frozenset(
            word for pattern in patterns for word in words_in(parse(pattern, self.parts, keys_of, self.taken_apart))
        )

    def hang(self, pattern: str) -> int:
        """The number of a pattern."""
        if pattern not in self.numbers:
            self.numbers[pattern] = len(self.numbers)
            rows = parse(pattern, self.parts, keys_of, self.taken_apart)
            plant(self.root, rows, PhraseMeaning("enquiry", str(self.numbers[pattern])))
            self.words |= words_in(rows)
        return self.numbers[pattern]


def _one_of(words: Iterable[str]) -> str:
    return f"({'|'.join(words)})"


def _flat(words: Iterable[str]) -> frozenset[str]:
    return frozenset(word for phrase in words for word in fold(phrase).split())
