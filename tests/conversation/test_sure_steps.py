"""Nobody is led past a step that has to be sure by a word that says nothing, nor into the steps of another wheel."""

import pytest

from tests.conversation.test_stepping import FREEWHEEL
from triagebot.conversation import Guide, plain
from triagebot.conversation.blocks import Hazard, Remark, Step
from triagebot.testing import ScriptedPerson


def _at(person: ScriptedPerson) -> str:
    guided = person.case.now.at("guided")
    return guided.what if guided is not None else ""


def _led(guide: Guide, *said: str) -> ScriptedPerson:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL, "take me through it", *said)
    return person


@pytest.mark.parametrize("filler", ["ok", "next", "what next", "great", "go on"])
@pytest.mark.parametrize(
    ("before", "step", "sure"),
    [
        (("done",), "freewheel/fit-tool", "it's home"),
        (("done", "it's home"), "freewheel/loosen", "it moved"),
        (("done", "it's home", "it moved"), "freewheel/clamp-off", "clamp is off"),
    ],
)
def test_a_filler_is_asked_about_where_the_step_has_to_be_sure(
    guide: Guide, filler: str, before: tuple[str, ...], step: str, sure: str
) -> None:
    person = _led(guide, *before)
    assert _at(person) == step
    person.says(filler)
    assert _at(person) == step
    assert [block.about.partition(".")[0] for block in person.reply.of(Remark)] == ["steps-and-now"]
    person.says(sure)
    assert _at(person) not in ("", step)


def test_it_is_asked_once(guide: Guide) -> None:
    person = _led(guide, "done", "ok", "yes")
    assert _at(person) == "freewheel/loosen"


def test_where_nothing_can_slip_a_filler_goes_on(guide: Guide) -> None:
    assert _at(_led(guide, "ok")) == "freewheel/fit-tool"


def test_another_wheel_begins_with_its_first_step(guide: Guide) -> None:
    person = _led(guide, "done", "it's home", "it moved", "clamp is off", "it's off")
    assert _at(person) == "freewheel/refit"
    person.says("restart", "one sprocket, 4 notches, 40 mm, it stays still, the wheel is out", "take me through it")
    assert person.reply.of(Step)[0].id == "procedure-freewheel-make-room"


def test_another_tool_begins_with_the_first_step(guide: Guide) -> None:
    person = _led(guide, "done", "it's home", "stop here")
    person.says("2 notches, not four", "25 mm with a calliper")
    if person.case.now.outcome == "answer":
        person.says("take me through it")
        assert person.reply.of(Step)[0].id == "procedure-freewheel-make-room"


def test_who_comes_back_to_the_same_wheel_goes_on_where_they_were(guide: Guide) -> None:
    person = _led(guide, "done", "it's home", "stop here", "take me through it")
    assert _at(person) == "freewheel/loosen"


@pytest.mark.parametrize("text", ["the remover slipped and gouged it", "it slipped and the slot is gouged now"])
def test_a_gouged_fitting_ends_it(guide: Guide, text: str) -> None:
    person = _led(guide, "done", "it's home", text)
    assert person.case.now.outcome == "person"


def test_a_tool_that_still_rocks_may_be_the_look_alike(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("12 splines, 23.5 mm, it turns with the sprockets, 9 sprockets, the wheel is out")
    person.says("nine splines, one of them narrower", "steps", "done", "it wobbles", "it still wobbles")
    assert "the other 12-spline tool" in plain(person.reply)


def test_nuts_told_with_the_tool_at_hand_take_a_deep_one(guide: Guide) -> None:
    person = _led(guide, "done", "it's got nuts on the axle not a quick release")
    assert "solid-axle" in [block.caution for block in person.reply.of(Hazard)]


@pytest.mark.parametrize(
    "text", ["it won't screw on straight", "it's gone on at an angle", "i think its cross threaded"]
)
def test_a_crossed_thread_is_backed_off(guide: Guide, text: str) -> None:
    person = _led(guide, "done", "it's home", "it moved", "clamp is off", "it's off", text)
    assert "start again by hand" in plain(person.reply)
