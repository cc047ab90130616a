"""How old one must be to read what a person reads: Flesch–Kincaid grade plus five, with variables filled.

Kincaid et al. 1975: grade = 0.39 words/sentence + 11.8 syllables/word - 15.59. A question is taken with its other
wordings.
"""

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from fluent.syntax import ast as fluent
from fluent.syntax import parse
from fluent.syntax.visitor import Visitor

from tests.conversation.guides import shipped_guide
from triagebot.conversation import greet, open_case
from triagebot.conversation.blocks import Remark
from triagebot.testing import START
from triagebot.topics import Texts
from triagebot.topics.texts import PROGRAM

#: At most these ages, in years.
QUESTIONS, ALL = 9.0, 11.0
#: Words that the wheel itself has; they are explained when asked for, and count like short words.
OF_THE_TRADE = re.compile(
    r"sprockets?|splines?|freewheels?|cassettes?|lockrings?|remover|anticlockwise|derailleur|calliper", re.I
)
GREETING_WORDS = 40
GUIDE = shipped_guide()
TEXTS: Texts = GUIDE.language("en").texts
#: A text of fewer words says little about how hard it is to read.
TELLING = 8
#: What stands for a variable that is a number; every other one is a short word.
NUMBERS = frozenset({"count", "minutes", "days", "value", "torque", "kilos", "handle"})


class Variables(Visitor):
    """The variables of a text, and those of them that are shown as numbers."""

    def __init__(self) -> None:
        self.names: set[str] = set()
        self.numbers: set[str] = set(NUMBERS)

    def visit_FunctionReference(self, node: fluent.FunctionReference) -> None:  # noqa: N802
        given = [each.id.name for each in node.arguments.positional if isinstance(each, fluent.VariableReference)]
        self.numbers |= set(given)
        self.generic_visit(node)

    def visit_VariableReference(self, node: fluent.VariableReference) -> None:  # noqa: N802 - the visitor's own naming
        self.names.add(node.id.name)


def syllables(word: str) -> int:
    """How many syllables a word has, by its groups of vowels; a silent e at its end is none."""
    bare = re.sub(r"[^a-z]", "", word.lower())
    if not bare:
        return 1
    groups = len(re.findall(r"[aeiouy]+", bare))
    silent = bare.endswith("e") and not bare.endswith(("le", "ee")) and groups > 1
    past = bare.endswith("ed") and not bare.endswith(("ted", "ded")) and groups > 1
    return max(groups - silent - past, 1)


def reading_age(text: str) -> float:
    """Flesch–Kincaid grade of a text, and the five years before school."""
    plain = OF_THE_TRADE.sub("part", text)
    sentences = [part for part in re.split(r"[.?!:\n]+(?:\s|$)", plain) if re.search(r"[A-Za-z]", part)]
    words = re.findall(r"[A-Za-z][A-Za-z’'-]*", plain)
    each = sum(map(syllables, words)) / len(words)
    return 0.39 * len(words) / len(sentences) + 11.8 * each - 15.59 + 5


def questions() -> list[str]:
    return [question.id for question in GUIDE.topic.flow.questions]


def test_the_formula_tells_easy_from_hard() -> None:
    assert reading_age("The cat sat on the mat. It was a fat cat.") < 6
    hard = "Subsequent disassembly necessitates considerable familiarity with proprietary mechanical components."
    assert reading_age(hard) > 20


@pytest.mark.parametrize("question", questions())
def test_a_question_is_read_at_nine(question: str) -> None:
    asked = " ".join(TEXTS(f"question-{question}{part}") for part in ("", ".short", ".again"))
    assert reading_age(asked) <= QUESTIONS


def said(file: Path) -> Iterator[tuple[str, str]]:
    """Every text of a file, with its variables filled, by its id."""
    written = parse(file.read_text(encoding="utf-8"))
    found = Variables()
    found.visit(written)  # of all texts: one may show another
    given = {name: 3 if name in found.numbers else "part" for name in found.names}
    for entry in written.body:
        if not isinstance(entry, fluent.Message):
            continue
        parts = [("", entry.value), *((f".{part.id.name}", part.value) for part in entry.attributes)]
        for part, value in parts:
            if value is not None:
                yield f"{entry.id.name}{part}", TEXTS(f"{entry.id.name}{part}", **given)


def too_hard(rows: Iterable[tuple[str, str]]) -> dict[str, float]:
    telling = [(name, text) for name, text in rows if len(text.split()) >= TELLING]
    return {name: round(age, 1) for name, text in telling if (age := reading_age(text)) > ALL}


def test_every_text_of_the_topic_is_read_at_eleven() -> None:
    assert too_hard(said(GUIDE.topic.folder / "text" / "en.ftl")) == {}


def test_every_text_of_the_program_is_read_at_eleven() -> None:
    """What customers, mentors and staff are told, and what stands on pages, cards and gauges."""
    assert too_hard(said(PROGRAM / "text" / "en.ftl")) == {}


def test_the_greeting_is_short_and_plain() -> None:
    reply = greet(GUIDE, open_case(GUIDE, "AAA-001", "en", START), START).reply
    said, asked = reply.of(Remark), reply.question
    assert [block.about for block in said] == ["greeting"]
    assert asked is not None
    assert len(said[0].text.split()) + len(asked.text.split()) <= GREETING_WORDS
    assert reading_age(said[0].text) <= ALL


def test_nothing_is_said_to_be_not_so_that() -> None:
    for folder in (GUIDE.topic.folder, PROGRAM):
        assert "it is not so that" not in (folder / "text" / "en.ftl").read_text(encoding="utf-8").lower()
