"""Nobody is led back to a tool on what broke, and what is told beside a step counts."""

import pytest

from tests.conversation.test_step_reports import led_to, said
from triagebot.conversation import plain
from triagebot.conversation.blocks import Hazard, Remark, Step
from triagebot.conversation.understanding import understand
from triagebot.identify import ChoiceReading
from triagebot.testing import ScriptedPerson

LOOSEN = "freewheel/loosen"


def _at(person: ScriptedPerson) -> str:
    guided = person.case.now.at("guided")
    return guided.what if guided is not None else ""


@pytest.mark.parametrize(
    "text", ["what now?", "what next", "and now?", "steps", "go on then, steps", "how much is it?"]
)
def test_after_something_broke_nobody_is_led_back(text: str) -> None:
    person = said(LOOSEN, "it slipped out and one corner of the slot has broken off", text)
    assert not person.reply.of(Step)
    assert person.case.now.outcome == "person"
    assert _at(person) == ""


def test_what_broke_before_the_steps_offers_none_of_theirs() -> None:
    person = said(LOOSEN, "it slips", "still slips")
    assert person.case.now.reason == "stuck"
    person.says("one of them snapped")
    assert {choice.id for choice in person.reply.offers}.isdisjoint({"done", "slips", "broke"})
    person.says("what now?")
    assert not person.reply.of(Step)


def test_nothing_broken_after_all_leads_back() -> None:
    person = said(LOOSEN, "something broke", "no, nothing is broken")
    assert _at(person) == LOOSEN
    assert plain(person.reply).startswith("Good, so nothing’s broken.")


@pytest.mark.parametrize("text", ["something broke? nah, it is stuck", "something broke? no", "Broken? Nope, stuck"])
def test_what_is_asked_and_denied_at_once_did_not_break(text: str) -> None:
    assert said(LOOSEN, text).case.now.outcome == "answer"


def test_who_is_stuck_with_a_tool_stays_stuck_while_it_is_the_same_tool() -> None:
    person = said(LOOSEN, "it slips", "still slips", "no, the notches are fine")
    assert person.case.now.reason == "stuck"
    assert "It still takes one of us" in plain(person.reply)
    person.says("what now?")
    assert not person.reply.of(Step)


@pytest.mark.parametrize(
    "text",
    [
        "it goes in, but sits loosely in one slot. It is a little worn",
        "it fits but its a bit worn",
        "one looks slightly worn",
    ],
)
def test_a_little_worn_is_worn(text: str) -> None:
    assert said("freewheel/fit-tool", text).case.now.reason == "referral"


@pytest.mark.parametrize(
    "text", ["is it dangerous? I don't have goggles", "I have no safety glasses", "not wearing glasses"]
)
def test_who_has_no_glasses_is_not_done(text: str) -> None:
    assert _at(said("snap-ring/protect", text)) == "snap-ring/protect"


@pytest.mark.parametrize("text", ["glasses on", "I've got my goggles on", "im wearing safety glasses"])
def test_who_has_them_on_is(text: str) -> None:
    assert _at(said("snap-ring/protect", text)) == "snap-ring/ring"


def test_what_is_told_beside_success_counts() -> None:
    person = said("freewheel/make-room", "It has wing nuts. They are off now")
    assert _at(person) == "freewheel/fit-tool"
    assert "deep, hollow one" in " ".join(block.text for block in person.reply.of(Hazard))


def test_a_lever_that_is_not_there_is_nothing_done() -> None:
    assert _at(said(LOOSEN, "what skewer? it's got nuts, no lever")) == LOOSEN


def test_who_went_on_alone_is_helped_where_they_are() -> None:
    person = said("freewheel/make-room", "it fits but it wont move at all")
    assert _at(person) == LOOSEN
    assert "one steady push" in plain(person.reply)


@pytest.mark.parametrize("text", ["how strong must I turn when I put the new one on?", "how tight does it go on?"])
def test_putting_it_back_is_not_answered_with_loosening(text: str) -> None:
    words = plain(said("freewheel/unscrew", text).reply)
    assert "pedalling does that" in words
    assert "anticlockwise" not in words.partition("\n\n")[0]


def test_what_speaks_against_the_answer_is_said_and_what_is_known_not_asked() -> None:
    person = ScriptedPerson(led_to(LOOSEN).guide)
    person.says(
        "it stays still, 20 splines, 21.5 mm, 7 sprockets",
        "When I spin gears back this ring with teeths is turning too.",
    )
    assert "This doesn’t fit: the middle turns with the sprockets." in plain(person.reply)
    assert person.case.now.puzzle is None
    assert person.reply.of(Remark)


@pytest.mark.parametrize(
    "text",
    [
        "I want to go on anyway. can I file the notch a bit and clamp the tool?",
        "which way did it unscrew, if I want one last go?",
        "can I use a longer bar then?",
        "can I hit it with a hammer?",
    ],
)
def test_what_was_stopped_is_not_helped_on(text: str) -> None:
    person = said("freewheel/fit-tool", "one of the notches is rounded", text)
    assert plain(person.reply).startswith("Not on this one any more")


@pytest.mark.parametrize(
    "text", ["it's in but it doesn't sit so firmly, a bit of play", "its in but not firm", "it's in, some play though"]
)
def test_play_is_not_home(text: str) -> None:
    assert _at(said("freewheel/fit-tool", text)) == "freewheel/fit-tool"


@pytest.mark.parametrize("text", ["nothing moves. it's really tight", "it doesn't move. so tight", "it's really tight"])
def test_what_is_tight_and_does_not_move_gets_what_helps(text: str) -> None:
    assert "one steady push" in plain(said(LOOSEN, text).reply)


@pytest.mark.parametrize("text", ["goes in all the way, but rocks a bit", "it goes home, some play", "it rocks"])
def test_a_tool_that_rocks_is_not_home(text: str) -> None:
    (fact,) = understand(text, led_to(LOOSEN).guide.setting("en", "freewheel-tool")).facts
    assert fact.reading == ChoiceReading("freewheel-tool", "stops-short")


@pytest.mark.parametrize("text", ["it goes all the way in, no play", "it doesn't rock"])
def test_a_tool_that_does_not_rock_is(text: str) -> None:
    (fact,) = understand(text, led_to(LOOSEN).guide.setting("en", "freewheel-tool")).facts
    assert fact.reading == ChoiceReading("freewheel-tool", "home")


@pytest.mark.parametrize("text", ["can I cut the plug off?", "it's stuck with the plug", "I'd just cut the cable"])
def test_no_cable_is_cut(text: str) -> None:
    person = ScriptedPerson(led_to(LOOSEN).guide)
    person.says("e-bike, motor in the rear hub", "7 sprockets")
    person.says(text)
    assert "don’t force the plug" in plain(person.reply)
