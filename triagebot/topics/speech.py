"""What simulated people say, as a file of the topic: `text/<language>.speech.yaml`.

It is a yardstick for the reader, which is never taught on it. No case depends on it, so it is no part of the digest.
"""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, StringConstraints

from triagebot.errors import DataError, Problem
from triagebot.topics.load import validated_with_marks
from triagebot.topics.marks import Files
from triagebot.topics.schema import Id, Question, Row
from triagebot.topics.topic import Topic

#: How the name of the file ends.
SPEECH = ".speech.yaml"

#: A phrase that fits into a correction has at most so many words.
LONGEST_CORRECTED = 5


def _slots(*must: str, may: str = "", either: tuple[str, ...] = ()) -> AfterValidator:
    """A phrase holds each slot that it `must` once, one of `either`, perhaps what it `may`, and no others."""

    def check(phrase: str) -> str:
        if missing := [slot for slot in must if slot not in phrase]:
            raise ValueError(f"should hold {missing[0]}")
        if either and not any(slot in phrase for slot in either):
            raise ValueError(f"should hold {' or '.join(either)}")
        rest = phrase
        for slot in (*must, *either, may):
            rest = rest.replace(slot, "", 1)
        if "{" in rest or "}" in rest:
            raise ValueError("holds a {…} that cannot stand here")
        return phrase

    return AfterValidator(check)


Text = Annotated[str, StringConstraints(min_length=1, max_length=300)]
Phrases = Annotated[tuple[Annotated[Text, _slots()], ...], Field(min_length=1)]
Counting = Annotated[tuple[Annotated[Text, _slots(either=("{n}", "{word}"))], ...], Field(min_length=1)]
Measured = Annotated[tuple[Annotated[Text, _slots("{mm}", may="{means}")], ...], Field(min_length=1)]
Corrections = Annotated[tuple[Annotated[Text, _slots("{wrong}", "{right}")], ...], Field(min_length=1)]


class Speech(Row):
    """A bank of phrases. `answers` by question and choice, `counts` and `unsure` by question; `sizes` for any length.

    `nothing`, `questions` and `elsewhere` say nothing of the wheel. `unasked`, by question: words of which a phrase
    holds one if it says by itself what it is about, unless it begins with one of `answering`. `uncorrected`: words that
    keep a phrase out of a correction.
    `joiners` stand between two facts. `ones` (0 to 19) and `tens` (20 to 90) spell numbers.
    """

    answers: dict[Id, dict[Id, Phrases]]
    counts: dict[Id, Counting]
    sizes: Measured
    unsure: dict[Id, Phrases]
    corrections: Corrections
    nothing: Phrases
    questions: Phrases
    elsewhere: Phrases
    ones: Annotated[tuple[Text, ...], Field(min_length=20, max_length=20)]
    tens: Annotated[tuple[Text, ...], Field(min_length=8, max_length=8)]
    means: dict[Id, Phrases]
    sizes_by: dict[Id, Measured] = Field(default_factory=dict)
    unasked: dict[Id, Phrases]
    answering: tuple[Text, ...] = ()
    uncorrected: tuple[Text, ...] = ()
    joiners: Phrases

    def spelled(self, number: int) -> str:
        """A number from 0 to 99 in words; any other in digits."""
        if not 0 <= number <= 99:
            return str(number)
        if number < len(self.ones):
            return self.ones[number]
        tens, ones = divmod(number, 10)
        return self.tens[tens - 2] + (f"-{self.ones[ones]}" if ones else "")

    def stands_alone(self, question: str, phrases: Iterable[str]) -> tuple[str, ...]:
        """Those phrases that say by themselves what they are about."""
        words = {word.casefold() for word in self.unasked.get(question, ())}
        alone = (phrase for phrase in phrases if words.intersection(_words(phrase)))
        return tuple(phrase for phrase in alone if not phrase.casefold().startswith(self.answering))

    def fit_corrections(self, phrases: Iterable[str]) -> tuple[str, ...]:
        """Those phrases that may stand inside a correction."""
        kept_out = {word.casefold() for word in self.uncorrected}
        split = ((phrase, _words(phrase)) for phrase in phrases)
        return tuple(p for p, words in split if len(words) <= LONGEST_CORRECTED and not kept_out.intersection(words))


def _words(phrase: str) -> list[str]:
    return [word.strip(".,!?;:").casefold() for word in phrase.split()]


def speech_file(folder: Path, language: str) -> Path:
    """Where a topic keeps what simulated people say in a language."""
    return folder / "text" / f"{language}{SPEECH}"


def load_speech(topic: Topic, language: str) -> Speech:
    """Read what simulated people say. Raises DataError with every fault, by file, line and column."""
    file = speech_file(topic.folder, language)
    speech, marks = validated_with_marks(Speech, file)
    name = file.relative_to(topic.folder).as_posix()
    problems = tuple(_faults(topic, speech, Files(topic.folder, {name: marks}), name))
    if problems:
        raise DataError(topic.folder, problems)
    return speech


def speech_faults(topic: Topic) -> list[Problem]:
    """Every fault of every speech file that the topic has."""
    problems: list[Problem] = []
    for file in sorted((topic.folder / "text").glob(f"*{SPEECH}")):
        try:
            load_speech(topic, file.name.removesuffix(SPEECH))
        except DataError as error:
            problems += error.problems
    return problems


def _faults(topic: Topic, speech: Speech, files: Files, name: str) -> Iterator[Problem]:
    """Ids that the topic does not have, and answers for which there are no words."""
    tables: dict[str, Iterable[str]] = {
        "answers": speech.answers, "counts": speech.counts, "unsure": speech.unsure, "unasked": speech.unasked,
    }  # fmt: skip
    for table, rows in tables.items():
        for named in rows:
            if named not in topic.questions:
                yield files.problem(name, (table, named), f"there is no question {named!r}", key=True)
    known = {means.id for means in topic.flow.noise.means}
    for table, rows in (("means", speech.means), ("sizes-by", speech.sizes_by)):
        for means in rows:
            if means not in known:
                yield files.problem(name, (table, means), f"nobody measures with {means!r}", key=True)
    for question in topic.flow.questions:
        if not question.shop_words:
            yield from _missing(question, speech, files, name)


def _missing(question: Question, speech: Speech, files: Files, name: str) -> Iterator[Problem]:
    def fault(path: tuple[Any, ...], message: str) -> Problem:
        return files.problem(name, path, message)

    if question.id not in speech.unsure:
        yield fault(("unsure",), f"no words for not knowing {question.id!r}")
    if question.kind == "count" and question.id not in speech.counts:
        yield fault(("counts",), f"no words for a number of {question.id!r}")
    rows = speech.answers.get(question.id, {})
    for choice in rows:
        if choice not in question.choices:
            yield files.problem(name, ("answers", question.id, choice), f"{question.id!r} has no such choice", key=True)
    if question.purpose == "ability" and question.id not in speech.unasked:
        yield fault(("unasked",), f"no words by which one says {question.id!r} unasked")
    for choice in question.choices:
        if choice not in rows:
            yield fault(("answers", question.id), f"no words for choice {choice!r} of {question.id!r}")
        elif question.id in speech.unasked and not speech.stands_alone(question.id, rows[choice]):
            yield fault(("unasked", question.id), f"no phrase for {choice!r} holds one of these words")
