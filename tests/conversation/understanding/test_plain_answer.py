"""A plain answer is read at once, and never otherwise than in full.

Of what was said to other questions an ordinary run reads every third message, a long one all.
"""

import re
from collections.abc import Iterable
from dataclasses import replace

import pytest

from tests.conversation.guides import shipped_guide
from tests.conversation.understanding.conftest import TOPIC
from tests.effort import effort
from triagebot.conversation.understanding import Setting
from triagebot.conversation.understanding.plain_answer import LONGEST, plain_answer
from triagebot.conversation.understanding.reader import read_in_full
from triagebot.conversation.understood import Fact, Meaning
from triagebot.identify.readings import ChoiceReading, CountReading, Reading, UnsureReading
from triagebot.study.train_reader import corpus_of, labelled

GUIDE = shipped_guide()
QUESTIONS = tuple(GUIDE.topic.questions)


def differing(setting: Setting, texts: Iterable[str]) -> tuple[int, list[tuple[str, Meaning, Meaning]]]:
    """How many of the texts are read at once, and those that reading in full takes otherwise."""
    read, wrong = 0, []
    for text in texts:
        at_once = plain_answer(text, setting)
        if at_once is not None:
            read += 1
            in_full = read_in_full(text, setting)
            wrong += [(text, at_once, in_full)] if at_once != in_full else []
    return read, wrong


def test_no_labelled_message_is_read_otherwise() -> None:
    messages = {(row.opened, row.text) for row in labelled(corpus_of(TOPIC, "en"))}
    read = 0
    for opened in {opened for opened, _ in messages}:
        count, wrong = differing(GUIDE.setting("en", opened), [text for at, text in messages if at == opened])
        assert not wrong
        read += count
    assert read > 300


@pytest.mark.parametrize("opened", QUESTIONS)
def test_what_was_said_to_other_questions_is_not_read_otherwise(opened: str) -> None:
    texts = {row.text for row in labelled(corpus_of(TOPIC, "en")) if len(row.text) <= LONGEST}
    texts = set(sorted(texts)[:: effort(3, 1)])
    _, wrong = differing(GUIDE.setting("en", opened), texts)
    assert not wrong


@pytest.mark.parametrize("opened", QUESTIONS)
def test_nothing_that_the_words_files_list_is_read_otherwise(opened: str) -> None:
    setting = GUIDE.setting("en", opened)
    words = setting.words
    listed = {pattern for rows in words.topic.choices.values() for row in rows.values() for pattern in row.words}
    listed |= {pattern for rows in words.topic.choices.values() for row in rows.values() for pattern in row.when_open}
    texts = {pattern for pattern in listed if not re.search(r"[()<>|*#$]", pattern)} | set(words.alone)
    texts |= {" ".join(said) for said in words.number_words} | {str(number) for number in range(120)}
    texts |= {shown for label in setting.labels for shown in (label, label.upper(), f"{label}.")}
    read, wrong = differing(setting, texts)
    assert not wrong
    assert read or setting.open_kind == "size"


@pytest.mark.parametrize(
    ("opened", "text", "reading"),
    [
        ("spin", "It stays still", ChoiceReading("spin", "stays")),
        ("wheel", " yes ", ChoiceReading("wheel", "out")),
        ("wheel", "Nope.", ChoiceReading("wheel", "in")),
        ("count", "4", CountReading("count", 4, 4)),
        ("sprockets", "11", CountReading("sprockets", 11, 11)),
        ("fitting", "not sure", UnsureReading("fitting")),
        ("fitting", "Splines", ChoiceReading("fitting", "splines")),
        ("count", "I'm not sure", UnsureReading("count")),
    ],
)
def test_a_plain_answer_is_read_at_once(opened: str, text: str, reading: Reading) -> None:
    said = text.strip(" .")
    assert plain_answer(text, GUIDE.setting("en", opened)) == Meaning((Fact(reading, said),))


@pytest.mark.parametrize(
    ("opened", "text"),
    [
        ("spin", "yes"),  # turns, or stays?
        ("count", "49"),
        ("count", "0"),
        ("count", "4 or 5"),
        ("wheel", "is it out?"),
        ("wheel", "probably out"),
        ("wheel", "help"),
        ("sprockets", "can't measure"),
        ("wheel", ""),
    ],
)
def test_what_is_not_plain_is_left_to_reading_in_full(opened: str, text: str) -> None:
    assert plain_answer(text, GUIDE.setting("en", opened)) is None


def test_nothing_is_plain_while_something_is_asked_back_or_nothing_is_asked() -> None:
    assert plain_answer("yes", replace(GUIDE.setting("en", "wheel"), confirming=True)) is None
    assert plain_answer("yes", GUIDE.setting("en", None)) is None
