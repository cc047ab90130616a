"""What was understood is said back in a few words: the right ones, in good English, and begun otherwise each time."""

from datetime import UTC, datetime
from itertools import pairwise

import pytest

from triagebot.conversation import Guide, open_case
from triagebot.conversation.blocks import Understood
from triagebot.conversation.understood import Fact
from triagebot.conversation.wording import echo, said
from triagebot.identify import ChoiceReading, CountReading, Reading, UnsureReading
from triagebot.testing import ScriptedPerson

STAYS, SPLINES = ChoiceReading("spin", "stays"), ChoiceReading("fitting", "splines")


def echoes(person: ScriptedPerson) -> list[str]:
    return [block.text for block in person.reply.of(Understood)]


def first(guide: Guide, *readings: Reading) -> str:
    case = open_case(guide, "K7M4QX", "en", datetime(2026, 3, 2, 10, tzinfo=UTC))
    return echo(guide, guide.language("en").texts, case, [Fact(reading, "") for reading in readings])


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ((CountReading("sprockets", 1, 1),), "One sprocket, then."),
        ((CountReading("sprockets", 7, 7),), "7 sprockets, then."),
        ((CountReading("count", 20, 20),), "20 of them, then."),
        ((STAYS,), "The middle stays still, then."),
        ((SPLINES, CountReading("count", 20, 20)), "20 splines, then."),
        ((CountReading("count", 4, 4), ChoiceReading("fitting", "notches")), "4 notches, then."),
        ((STAYS, CountReading("sprockets", 6, 6)), "So: 6 sprockets, and the middle stays still."),
        ((ChoiceReading("fitting", "splines", denied=True),), "There are no splines, then."),
        (
            (UnsureReading("drive"), STAYS),
            "So: you’re not sure about whether the bike coasts and the middle stays still.",
        ),
    ],
)
def test_what_was_understood_is_said_in_a_few_words(guide: Guide, readings: tuple[Reading, ...], words: str) -> None:
    assert first(guide, *readings) == words


def test_no_two_echoes_in_a_row_begin_alike(person: ScriptedPerson) -> None:
    told = []
    for text in (
        "6 sprockets",
        "no, 7 sprockets",
        "no, 8 sprockets",
        "no, 9 sprockets",
        "no, 10 sprockets",
        "no, 5 sprockets",
    ):
        person.says(text)
        told += echoes(person)
    assert len(told) == 6
    ways = [words.partition(" (")[0].replace("one sprocket", "#") for words in told]
    for digit in "0123456789":
        ways = [way.replace(digit, "#") for way in ways]
    assert all(one != other for one, other in pairwise(ways))


def test_it_stands_only_for_what_was_just_asked(person: ScriptedPerson) -> None:
    person.says("6 sprockets, it stays still")
    assert echoes(person) == ["So: 6 sprockets, and the middle stays still."]
    person.says("change")
    person.says("2")
    assert person.case.now.question == "spin"
    person.says("it turns")
    assert echoes(person)[0].startswith("Right: it turns.")


def test_not_knowing_is_no_matter(person: ScriptedPerson) -> None:
    told = set()
    for _ in range(4):
        if person.reply.question is None:
            person.says("hello")
        person.says("I don’t know")
        told |= {*echoes(person)}
    assert "No matter." in told
    assert not any("sure" in each for each in told)


def test_every_choice_has_its_words(guide: Guide) -> None:
    texts = guide.language("en").texts
    for question in guide.topic.flow.questions:
        for choice in question.choices:
            reading = ChoiceReading(question.id, choice)
            words = first(guide, reading)
            assert words.endswith(", then.")
            assert len(words) <= len(said(guide, texts, reading)) + len(", then.")
