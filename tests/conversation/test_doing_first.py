"""The wheel is still in the bike: how it comes out is told along with the question, once."""

import pytest

from triagebot.conversation import Guide, plain
from triagebot.conversation.machine import standing_choices
from triagebot.identify import ChoiceReading, CountReading, Reading, UnsureReading
from triagebot.study.replay import bare
from triagebot.testing import ScriptedPerson

IN = ChoiceReading("wheel", "in")


@pytest.fixture
def told(guide: Guide) -> ScriptedPerson:
    """Somebody who was asked to count and whose wheel is in."""
    person = ScriptedPerson(guide)
    person.says("7 sprockets", "it's still in the bike")
    return person


def test_the_question_carries_what_to_do_first_and_is_answered_at_once(told: ScriptedPerson) -> None:
    assert told.reply.question is not None
    assert (told.reply.question.id, told.case.now.first) == ("count", "wheel")
    assert "lift the wheel out" in plain(told.reply)
    told.says("12 splines")
    assert CountReading("count", 12, 12) in told.case.now.readings
    assert told.reply.question is not None
    assert told.reply.question.id not in ("wheel", "count"), "what was counted was counted with the wheel out"
    assert "lift the wheel out" not in plain(told.reply)


@pytest.mark.parametrize("words", ["done", "yes", "out", "it's out now", "ok, it's off"])
def test_that_it_is_done_leads_to_the_same_question(told: ScriptedPerson, words: str) -> None:
    told.says(words)
    assert told.case.now.readings[-1] == ChoiceReading("wheel", "out")
    assert told.reply.question is not None
    assert told.reply.question.id == "count"
    assert told.case.now.asks["count"] == 1, "it was put once"


@pytest.mark.parametrize("words", ["no", "it's still in", "can't get it out", "no idea"])
def test_who_could_not_is_asked_about_the_wheel_alone(told: ScriptedPerson, words: str) -> None:
    told.says(words)
    assert told.reply.question is not None
    assert told.reply.question.id == "wheel"
    said = [plain(told.reply)]
    assert "lift the wheel out" not in said[0], "how was told already"
    for _ in range(3):
        told.says("no")
        if told.reply.question is None or told.reply.question.id != "wheel":
            return
        said.append(plain(told.reply))
        assert len(set(said)) == len(said), "nothing is asked twice in the same words"
    pytest.fail("asked about the wheel without end")


def test_a_wheel_that_is_in_is_told_in_one_press(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("7 sprockets")
    assert person.reply.question is not None
    pressed = next(choice for choice in person.reply.question.aside if choice.id == "wheel-in")
    person.presses(pressed.id)
    assert person.case.now.readings[-1] == IN
    assert person.reply.question is not None
    assert person.case.now.first == "wheel"
    assert "wheel-in" not in {choice.id for choice in person.reply.question.aside}


def test_it_may_be_typed_as_it_is_shown(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("7 sprockets", "The wheel’s still in")
    assert person.case.now.puzzle is None
    assert person.case.now.readings[-1] == IN


def test_a_replayed_case_that_waits_with_the_wheel_in_waits_for_the_same(told: ScriptedPerson) -> None:
    assert "wheel" in told.case.now.asks
    assert "wheel" not in bare(told.case, told.case.touched).now.asks


@pytest.mark.parametrize(
    ("readings", "stands"),
    [
        ((IN,), True),
        ((CountReading("count", 12, 12), IN), True),
        ((IN, CountReading("sprockets", 7, 7)), True),
        ((IN, UnsureReading("count")), True),
        ((IN, CountReading("count", 12, 12)), False),
        ((IN, CountReading("count", 12, 12), IN), True),
    ],
)
def test_what_is_seen_only_with_the_wheel_out_says_that_it_is_out(
    guide: Guide, readings: tuple[Reading, ...], stands: bool
) -> None:
    assert ("wheel" in standing_choices(guide.topic, readings)) is stands
