"""Words that fit the work and come at a moment when there is nothing of the sort to say: a sensible word, and what was
open stays open."""

import pytest

from tests.conversation.enquiries.rows import ANSWERED
from tests.conversation.test_stepping import at, led
from tests.words import words_of
from triagebot.conversation import Guide
from triagebot.testing import ScriptedPerson


@pytest.mark.parametrize(
    ("said", "word"),
    [("steps", "The steps come as soon as"), ("next step", "The steps come"), ("done", "what did you")],
)
def test_before_anything_was_found(guide: Guide, said: str, word: str) -> None:
    person = ScriptedPerson(guide)
    person.says("7 sprockets")
    asked, readings = person.case.now.question, person.case.now.readings
    assert word in words_of(person.says(said))
    assert (person.case.now.question, person.case.now.readings) == (asked, readings)
    assert person.reply.question is not None
    assert word not in words_of(person.says(said)), "not in the same words again"


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ("idk", "no more you need to know"),
        ("dont know", "no more you need to know"),
        ("yes", "I’ll take you through it"),
        ("no thanks", "Take your time"),
        ("done", "Well done"),
    ],
)
def test_once_an_answer_stands(guide: Guide, said: str, word: str) -> None:
    person = ScriptedPerson(guide)
    person.says(*ANSWERED)
    before = person.case.now
    assert word in words_of(person.says(said))
    assert (person.case.now.outcome, person.case.now.readings) == (before.outcome, before.readings)
    assert person.reply.offers
    again = words_of(person.says(said))
    assert word not in again
    assert "didn’t get that" not in again, "it was answered just now"


def test_with_a_person_to_look_no_steps_are_promised(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("person", "bot")
    for said in ("yes", "idk"):
        assert "take you through" not in words_of(person.says(said))


@pytest.mark.parametrize(
    ("said", "why", "never"),
    [
        (["something broke"], "Keep every piece", "slip"),
        (["it slips", "it slips"], "no tool will hold", "piece"),
        (["nothing moves", "nothing moves", "nothing moves"], "more force only breaks", "no tool will hold"),
    ],
)
def test_what_went_wrong_is_why_a_person_takes_over(guide: Guide, said: list[str], why: str, never: str) -> None:
    person = led(guide, "done", "done")
    person.says(*said)
    assert person.case.now.outcome == "person"
    assert why in words_of(person.reply)
    assert never not in words_of(person.reply)


def test_who_is_hurt_is_looked_after_first(guide: Guide) -> None:
    person = led(guide, "done", "done")
    place = at(person)
    for said in ("ouch", "I cut my hand"):
        assert "press a clean cloth on it" in words_of(person.says(said))
        assert at(person) == place


def test_what_does_not_go_together_in_a_first_message_is_not_held_against_an_earlier_one(guide: Guide) -> None:
    texts = guide.language("en").texts
    first, later = ScriptedPerson(guide), ScriptedPerson(guide)

    first.says("12 splines, 23.4 mm, 9 sprockets, it stays still, a torque is stamped on it")
    later.says("12 splines, 23.4 mm, 9 sprockets, it stays still")
    later.says("a torque is stamped on it")

    assert texts("does-not-fit-together") in words_of(first.reply)
    assert texts("does-not-fit-together") not in words_of(later.reply)
    assert texts("does-not-fit") in words_of(later.reply)
