"""A word of the bench that tells which of two alike it is, beside splines or a lockring: "12spl deep 9sp".

What such a word says is data (`traits`), by question and choice; a topic without that question takes nothing from it.
"""

import re
from collections.abc import Sequence

from triagebot.conversation import Fact
from triagebot.counter.words import StaffWords
from triagebot.identify import ChoiceReading
from triagebot.shop import fold
from triagebot.topics import Topic

_WORD = re.compile(r"[^\W\d_]+")


def without_traits(words: StaffWords, text: str) -> tuple[str, tuple[str, ...]]:
    """A line without its telling words, and these. What stands right before the splines is said of them ("12 deep
    splines")."""
    found = _WORD.findall(text)
    said = tuple(
        word
        for word, behind in zip(found, (*found[1:], "")[: len(found)], strict=True)
        if fold(word) in words.traits and fold(behind) not in words.traits_of_splines
    )
    bare = text
    for word in said:
        bare = re.sub(rf"(?<![^\W\d_]){re.escape(word)}(?![^\W\d_])", " ", bare, count=1)
    return (" ".join(bare.split()) if said else text), said


def traits_told(
    words: StaffWords, topic: Topic, bare: str, said: Sequence[str], facts: Sequence[Fact]
) -> tuple[Fact, ...]:
    """What the telling words of a line say beside what else was read in it; nothing where they stand beside neither
    splines nor a lockring."""
    beside = {fold(word) for word in _WORD.findall(bare)}
    beside |= {fact.reading.choice for fact in facts if isinstance(fact.reading, ChoiceReading)}
    if beside.isdisjoint(words.traits_beside):
        return ()
    known = {fact.reading.question for fact in facts}
    return tuple(
        Fact(ChoiceReading(question, choice), word)
        for word in said
        for question, choice in words.traits[fold(word)].items()
        if question not in known and choice in _choices(topic, question)
    )


def _choices(topic: Topic, question: str) -> Sequence[str]:
    return topic.questions[question].choices if question in topic.questions else ()
