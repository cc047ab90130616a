"""What somebody puts right in the next breath counts for what they told, and for nothing else."""

import pytest

from tests.conversation.test_stepping import FREEWHEEL
from triagebot.conversation import Guide, plain
from triagebot.conversation.blocks import Step
from triagebot.identify import ChoiceReading, CountReading, Reading, SizeReading
from triagebot.testing import ScriptedPerson


def _value(reading: Reading) -> object:
    match reading:
        case CountReading():
            return reading.low
        case SizeReading():
            return reading.mm
        case ChoiceReading():
            return reading.choice
    return "unsure"


def _told(person: ScriptedPerson) -> dict[str, object]:
    """The last answer to each question."""
    return {reading.question: _value(reading) for reading in person.case.now.readings}


@pytest.mark.parametrize(
    "text", ["no, 10", "sorry, 10", "oops 10", "wait, 10", "i mean 10", "no sorry, 10", "make that 10"]
)
def test_another_number_behind_a_number_replaces_it(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("hello", "9 sprockets")
    assert person.case.now.question == "spin"
    person.says(text)
    assert _told(person)["sprockets"] == 10
    assert "Earlier you said" in plain(person.reply)


@pytest.mark.parametrize("text", ["no, stays", "sorry, it stays still", "actually, it stays"])
def test_another_choice_does_too(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("9 sprockets, the wheel is out", "it turns with the sprockets")
    assert person.case.now.question != "spin"
    person.says(text)
    assert _told(person)["spin"] == "stays"


def test_a_bare_no_before_a_number_names_no_maker(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("12 splines, it turns with the sprockets, 9 sprockets, the wheel is out", "I can't see it", "23.5 mm")
    assert person.case.now.question == "marking"
    person.says("no 22")
    assert _told(person)["size"] == 22.0
    assert "marking" not in _told(person)


def test_what_may_answer_or_put_right_is_asked_back(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("it stays still, 6 sprockets, the wheel is out", "12 splines")
    assert person.case.now.question == "size"
    person.says("no, 20")
    assert person.case.now.puzzle is not None
    assert "size" not in _told(person)
    person.says("yes")
    assert _told(person)["count"] == 20


@pytest.mark.parametrize("text", ["no, 25", "it's 25", "sorry, it's 25", "actually 25"])
def test_after_the_answer_too(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("4 notches, 24 mm, 6 sprockets, it stays still, the wheel is out")
    assert person.reply.status == "answer"
    person.says(text)
    assert _told(person)["size"] == 25.0
    assert _told(person)["count"] == 4


def test_where_it_may_be_several_it_is_asked_which(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("12 splines, 23.5 mm, it turns, 9 sprockets, the wheel is out", "nine splines, one of them narrower")
    before = _told(person)
    person.says("no, 11")
    assert _told(person) == before
    assert "Is “11”" in plain(person.reply)


@pytest.mark.parametrize(
    "text", ["no", "no idea", "no, sorry", "no splines", "no name", "no thanks", "not yet", "wait"]
)
def test_what_puts_nothing_right_replaces_nothing(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("hello", "9 sprockets", text)
    assert _told(person)["sprockets"] == 9


@pytest.mark.parametrize("text", ["moved", "it moved!", "moved a bit", "it's moving"])
def test_it_moved_is_of_the_work_and_not_of_the_spin(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL, text)
    assert _told(person)["spin"] == "stays"
    assert person.reply.of(Step)[0].id == "procedure-freewheel-clamp-off"


FIXED = "fixed wheel, one sprocket, 3 notches on the outside edge of a ring, 36 mm, the wheel is out"


@pytest.mark.parametrize("text", ["anticlockwise then?", "is anticlockwise right?", "which way do I turn it?"])
def test_the_direction_is_that_of_what_it_nearly_surely_is(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says(FIXED)
    assert person.reply.status == "question"
    person.says(text)
    assert "CLOCKWISE" in plain(person.reply)


@pytest.mark.parametrize("text", ["clockwise then?", "is clockwise right?", "anticlockwise?"])
def test_a_direction_in_question_is_answered_by_the_right_one(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL, text)
    assert "turn anticlockwise" in plain(person.reply)


@pytest.mark.parametrize("text", ["no sorry, looked again, they are 4", "oh wait, 4"])
def test_a_count_put_right_while_a_width_is_asked_for_is_asked_back_as_the_count(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says("5 sprockets, it stays still", "two big slots")
    assert person.reply.question is not None
    assert person.reply.question.id == "size"
    person.says(text)
    assert "You mean the count is 4?" in plain(person.reply)
    person.says("yes")
    assert _told(person)["count"] == 4
