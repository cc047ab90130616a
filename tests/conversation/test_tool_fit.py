"""What an answer asks of the tool itself stands next to the tool; and what is asked too early is promised."""

import pytest

from tests.conversation.test_stepping import FREEWHEEL
from triagebot.conversation import Guide, plain
from triagebot.conversation.blocks import Advice, Direction, Hazard, Remark
from triagebot.conversation.blocks import Tool as ToolBlock
from triagebot.conversation.outcome import cautions_for
from triagebot.testing import ScriptedPerson

SNAP_RING = "coaster brake, one sprocket, a snap ring round it, nothing to grip, the wheel is out"
CASSETTE = "12 splines, 23.5 mm, it turns with the sprockets, 9 sprockets, the wheel is out"


def _beside_the_tool(person: ScriptedPerson) -> list[str]:
    """What stands between the tool and which way it turns."""
    blocks = person.reply.blocks
    first = next(place for place, block in enumerate(blocks) if isinstance(block, ToolBlock))
    last = next(place for place, block in enumerate(blocks) if isinstance(block, Direction))
    return [block.id for block in blocks[first:last] if isinstance(block, Advice)]


@pytest.mark.parametrize(
    ("told", "beside"),
    [
        ((f"axle nuts, {FREEWHEEL}",), ["solid-axle"]),
        ((f"quick release, {FREEWHEEL}",), []),
        ((FREEWHEEL,), []),
        ((f"axle nuts, {CASSETTE}", "nine splines, one of them narrower"), ["solid-axle"]),
        ((f"a motor in the rear hub, {FREEWHEEL}",), ["motor-cable"]),
    ],
)
def test_the_tool_says_what_the_axle_asks_of_it(guide: Guide, told: tuple[str, ...], beside: list[str]) -> None:
    person = ScriptedPerson(guide)
    person.says(*told)
    assert person.reply.status == "answer"
    assert _beside_the_tool(person) == beside


def test_it_is_said_in_the_same_breath_as_the_tool(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says(f"axle nuts, {FREEWHEEL}")
    told = plain(person.reply)
    tool, _, rest = told.partition("it must be a deep, hollow one")
    assert "Remover:" in tool.split("\n\n")[-1]
    assert rest.split("\n")[1].startswith("Loosens")


def test_a_screwdriver_is_not_told_to_go_over_the_axle(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says(f"axle nuts, {SNAP_RING}")
    assert person.reply.status == "answer"
    named = guide.topic.fastenings["snap-ring-sprocket"]
    assert "solid-axle" not in cautions_for(guide, person.case, [named])
    person.says("steps")
    assert "solid-axle" not in [block.caution for block in person.reply.of(Hazard)]


@pytest.mark.parametrize(
    ("text", "about"),
    [
        ("cautions", "too-early-cautions"),
        ("any warnings?", "too-early-cautions"),
        ("note", "too-early-later"),
        ("putting it back", "too-early-later"),
        ("needs", "too-early-later"),
        ("steps", "too-early-steps"),
    ],
)
def test_what_comes_with_the_answer_is_promised_before_it(guide: Guide, text: str, about: str) -> None:
    person = ScriptedPerson(guide)
    person.says("hello", text)
    assert about in [block.about for block in person.reply.of(Remark)]
    assert person.reply.status == "question"


@pytest.mark.parametrize(
    "text", ["pulled with all my weight. nothing. help", "it is stuck, please help", "nothing moves!! help"]
)
def test_a_call_for_help_with_the_tool_in_hand_is_about_the_work(guide: Guide, text: str) -> None:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL, text)
    assert "help-direction" in [block.id for block in person.reply.blocks if hasattr(block, "id")]


def test_help_alone_is_the_list_of_words(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL, "help")
    assert "restart" in plain(person.reply)
