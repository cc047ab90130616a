"""A count that is said once more counts for what was counted, and answers nothing else unasked."""

import pytest

from triagebot.conversation import Guide
from triagebot.identify import CountReading
from triagebot.testing import ScriptedPerson


def _counts(person: ScriptedPerson, question: str) -> list[int]:
    return [
        reading.low
        for reading in person.case.now.readings
        if isinstance(reading, CountReading) and reading.question == question
    ]


@pytest.mark.parametrize("text", ["yes 24", "24!", "it's still 24", "24, I counted them three times"])
def test_a_number_that_cannot_answer_is_the_count_once_more(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("24 splines, 23 mm with a calliper, it stays still, the wheel is out, 6 sprockets", "24")
    assert person.case.now.question not in (None, "count", "sprockets", "size")
    before = len(_counts(person, "count"))
    person.says(text)
    assert _counts(person, "count")[before:] in ([], [24])
    assert "not-understood" not in [getattr(block, "about", "") for block in person.reply.blocks]


@pytest.mark.parametrize("text", ["yes 3 i counted three times", "3, I've counted them twice"])
def test_a_number_that_may_be_either_is_asked_back(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("3 notches, stays still, 25 mm, the wheel is out", "3")
    assert person.case.now.question == "sprockets"
    person.says(text)
    assert person.case.now.puzzle is not None
    assert _counts(person, "sprockets") == []
    person.says("yes")
    assert _counts(person, "sprockets") == [3]


def test_the_same_number_alone_answers_what_is_asked(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("3 notches, stays still, 25 mm, the wheel is out", "3")
    assert person.case.now.question == "sprockets"
    person.says("3")
    assert _counts(person, "sprockets") == [3]
