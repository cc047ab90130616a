"""Likely counts are offered to be tapped; a tap is the same as writing the number."""

import pytest

from triagebot.conversation import Guide
from triagebot.conversation.reply import from_data, to_data
from triagebot.conversation.wording import ANOTHER
from triagebot.identify import CountReading
from triagebot.testing import ScriptedPerson

COUNTS = ("count", "sprockets")


def asked(guide: Guide, question: str) -> ScriptedPerson:
    """Somebody who is asked this."""
    person = ScriptedPerson(guide)
    person.says(*(["6 sprockets", "it stays still", "notches"] if question == "count" else ["hello"]))
    for _ in range(10):
        if person.case.now.question == question:
            return person
        person.says("I don’t know")
    raise AssertionError(question)


@pytest.mark.parametrize("question", COUNTS)
def test_a_tap_is_the_same_as_the_number_written(guide: Guide, question: str) -> None:
    for number in guide.topic.questions[question].numbers:
        pressed, written = asked(guide, question), asked(guide, question)
        assert pressed.reply.question is not None
        assert str(number) in [choice.id for choice in pressed.reply.question.numbers]
        pressed.presses(str(number))
        written.says(str(number))
        assert CountReading(question, number, number) in pressed.case.now.readings
        assert pressed.case == written.case
        assert pressed.reply == written.reply


@pytest.mark.parametrize("question", COUNTS)
def test_another_number_may_be_written(guide: Guide, question: str) -> None:
    person = asked(guide, question)
    before = person.case.now.readings
    reply = person.presses(ANOTHER)
    assert reply.question is not None
    assert (reply.question.id, person.case.now.readings) == (question, before)
    person.says("14" if question == "count" else "4")
    assert len(person.case.now.readings) > len(before)


def test_only_counts_offer_numbers_and_they_are_kept(guide: Guide) -> None:
    reply = asked(guide, "count").reply
    assert from_data(to_data(reply)).question == reply.question
    for question in guide.topic.flow.questions:
        assert bool(question.numbers) == (question.kind == "count")
