"""A plain answer, read at once: a message that is nothing but one answer to the open question.

Rules of this file: what is plain enough. The label of a shown choice; a count in figures; one word for
yes or no; one short phrase for a choice or for not knowing, in which no word may tell that something else is spoken of.
All else is read in full, and so is every answer while something is being asked back. What is read here is exactly what
reading in full gives.
"""

import re

from triagebot.conversation.understanding.layout import Setting
from triagebot.conversation.understanding.normalise import folded
from triagebot.conversation.understanding.phrases import longest
from triagebot.conversation.understanding.whole_thoughts import ALONE
from triagebot.conversation.understanding.words import Words
from triagebot.conversation.understood import Fact, Meaning
from triagebot.identify.readings import ChoiceReading, CountReading, Reading, UnsureReading
from triagebot.topics.schema import Question

#: No plain answer is longer: this much of somebody's own words is kept.
LONGEST = 60
_WORDS = re.compile(r"[a-z]+(?: [a-z]+)*")
_FIGURES = re.compile(r"[1-9]\d?")


def plain_answer(text: str, setting: Setting) -> Meaning | None:
    """The one fact that the message is, or None where it must be read in full."""
    question = setting.questions.get(setting.open_question or "")
    said = " ".join(text.rstrip(" .!").split())
    if question is None or setting.confirming or len(text) > LONGEST or not said.isprintable():
        return None
    key = folded(said)
    reading = _labelled(key, setting, question) or _counted(key, question)
    if reading is None and _WORDS.fullmatch(key):
        keys = key.split(" ")
        if len(keys) <= ALONE and key not in setting.words.acknowledging and not _tells_more(keys, setting.words):
            reading = _yes_or_no(key, setting.words, question) or _phrase(keys, setting, question)
    return None if reading is None else Meaning((Fact(reading, said),))


def _labelled(key: str, setting: Setting, question: Question) -> Reading | None:
    """The choice that is shown in just these words."""
    for choice, label in zip(setting.choices, setting.labels, strict=True):
        if key == folded(label):
            return UnsureReading(question.id) if choice == "unsure" else ChoiceReading(question.id, choice)
    return None


def _counted(key: str, question: Question) -> Reading | None:
    if question.kind != "count" or not _FIGURES.fullmatch(key) or not question.least <= int(key) <= question.most:
        return None
    return CountReading(question.id, int(key), int(key))


def _tells_more(keys: list[str], words: Words) -> bool:
    """Whether a word is a number, or a phrase tells what is spoken of or how sure somebody is."""
    if any(key in words.heard or (key,) in words.number_words for key in keys):
        return True
    return any(
        longest(root, keys, place, len(keys), [False] * len(keys), None, False)[1]
        for root in (words.scopes, words.openings, words.wavering)
        for place in range(len(keys))
    )


def _yes_or_no(key: str, words: Words, question: Question) -> Reading | None:
    """What one word for yes or no says, to a question that such a word answers."""
    answers = {"yes": words.yes, "no": words.no}.get(words.alone.get(key, ""), {})
    plain = question.id in answers and " " not in key and question.id not in words.either_or
    return ChoiceReading(question.id, answers[question.id]) if plain else None


def _phrase(keys: list[str], setting: Setting, question: Question) -> Reading | None:
    """What one phrase from the first word to the last says, if it says nothing besides."""
    if " ".join(keys) in setting.words.alone:
        return None
    numbers = [False] * len(keys)
    end, meanings = longest(setting.words.root, keys, 0, len(keys), numbers, question.id, True)
    meant = {(meaning.kind, meaning.subject, meaning.value) for meaning in meanings if meaning.kind != "noun"}
    if end < len(keys) or len(meant) != 1:
        return None
    kind, subject, value = meant.pop()
    if (kind, subject) == ("choice", question.id) and question.kind == "choice":
        return ChoiceReading(question.id, value)
    unsure = (kind, subject, value) == ("unsure", "", "") and not any(_names(key, setting.words) for key in keys)
    return UnsureReading(question.id) if unsure else None


def _names(key: str, words: Words) -> bool:
    """Whether the word names a question, which then is what is not known: "can't measure"."""
    return any(meaning.kind == "name" for meaning in longest(words.root, [key], 0, 1, [False], None, False)[1])
