"""Every sentence of the page for mentors: said to the bot as they would say it, and read as they do."""

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from tests.claims import assert_exists, assert_nothing_is_left, proves
from tests.handover.workshop import Workshop, workshop
from triagebot.conversation.events import Answered
from triagebot.helping.participant import INVITED_FOR
from triagebot.messages import Pressed
from triagebot.messages.codes import CONSONANTS

HELPING = "triagebot/helping/README.md"


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Workshop]:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    with workshop(tmp_path) as made:
        yield made


def test_every_sentence_is_proved() -> None:
    assert_nothing_is_left(HELPING, {}, ())


@proves(HELPING, "Anybody can help a rider who is not there.")
@proves(HELPING, "Write “I’m helping somebody: the blue commuter”.")
@proves(HELPING, "Each question then comes twice: as a text to send on as it is, and as what to look out for.")
@proves(HELPING, "You type or press what the rider says.")
def test_each_question_comes_twice_and_is_answered_by_typing_or_pressing(shop: Workshop) -> None:
    shop.says("mo", "I’m helping somebody: the blue commuter")
    asked, forward = shop.roomy.screens["mo"][-2:]
    assert asked.reply.question is not None
    assert "blue commuter" in shop.told("mo")[-2]
    assert forward.forward
    assert not asked.forward
    shop.says("mo", "it turns, 9 sprockets")
    asked = next(message for message in reversed(shop.roomy.screens["mo"]) if message.reply.question is not None)
    question = asked.reply.question
    assert question is not None
    buttons = question.choices or question.numbers
    assert buttons
    shop.says("mo", Pressed(asked.case, asked.turn, buttons[0].id))
    held = shop.held("mo")
    assert held is not None
    assert question.id in [fact.reading.question for fact in held.case.now.facts]


@proves(HELPING, "`cases` lists the riders that you help.")
@proves(
    HELPING,
    "The name of one goes on with that wheel, and “the blue commuter: 12 splines” says something about it at once.",
)
@proves(HELPING, "`rename it to …` gives it another name, `summary` is a text to send on, and `finish` ends it.")
def test_riders_are_told_apart_by_name(shop: Workshop) -> None:
    for name in ("the blue commuter", "the red racer"):
        shop.says("mo", f"I’m helping somebody: {name}")
    listed = shop.says("mo", "cases")
    assert "the blue commuter" in listed
    assert "the red racer" in listed
    red = shop.code("mo")
    shop.says("mo", "the blue commuter")
    blue = shop.code("mo")
    assert blue != red
    shop.says("mo", "the red racer")
    shop.says("mo", "the blue commuter: 12 splines")
    held = shop.held("mo")
    assert held is not None
    assert held.case.code == blue
    assert {"fitting", "count"} <= {fact.reading.question for fact in held.case.now.facts}
    shop.says("mo", "summary")
    assert shop.roomy.screens["mo"][-1].forward
    shop.says("mo", "rename it to the green one")
    assert "the green one" in shop.says("mo", "cases")
    shop.says("mo", "finish")
    assert "the green one" not in shop.says("mo", "cases")


@proves(HELPING, "Every reply names its wheel.")
@proves(
    HELPING,
    "After news of another rider, or when you name another wheel in passing, you are asked which one you mean before "
    "anything is noted.",
)
@proves(HELPING, "All three work by name, too: “rename blue to red”, “summary blue”, “blue finish”.")
@proves(HELPING, "A rider who is there when you finish may go on alone.")
@proves(HELPING, "“no it is 20” puts the last number right.")
@proves(HELPING, "`summary` shows the rider all that is known.")
def test_a_mentor_of_two(shop: Workshop) -> None:
    shop.says("mo", "I’m helping somebody: blue")
    blue = shop.code("mo")
    shop.says("mo", "invite")
    code = re.search(rf"\b(?:[{CONSONANTS}]{{4}}-){{2}}[{CONSONANTS}]{{4}}\b", shop.told("mo")[-1])
    assert code is not None
    shop.says("ria", code[0])
    shop.says("ria", "yes")
    shop.says("mo", "I’m helping somebody: green")
    assert "“green”" in shop.says("mo", "it stays still")
    shop.says("ria", "20 splines")
    assert shop.says("mo", "no, 12 splines").startswith("Is that for “blue”?")
    assert "“blue”" in shop.says("mo", "yes")
    assert "14 splines" in shop.says("mo", "no it is 14")
    assert "the count is 14" in shop.says("ria", "summary")
    assert blue in shop.says("mo", "summary blue")
    shop.says("mo", "rename blue to red")
    assert "carry on" in (shop.says("mo", "red finish") and shop.told("ria")[-1])
    assert "red" not in shop.says("mo", "cases")


@proves(HELPING, "`invite` gives a link and a code that works once, for two days.")
@proves(
    HELPING,
    "A rider who brings it, on any channel, is told who sees what and joins with a yes.",
    "From then on the rider is asked directly; you read each answer, and can correct it or answer for the rider.",
    "Every answer says who gave it.",
    "`leave` or `forget me` ends it.",
)
@pytest.mark.parametrize("ends", ["leave", "forget me"])
def test_a_rider_joins_with_a_code(shop: Workshop, ends: str) -> None:
    shop.says("mo", "I’m helping somebody: the blue commuter")
    code = shop.code("mo")
    invited = re.search(rf"\b[{CONSONANTS}]{{4}}(-[{CONSONANTS}]{{4}}){{2}}\b", shop.says("mo", "invite"))
    assert invited is not None
    assert timedelta(days=2) == INVITED_FOR
    assert "If you say yes, they’ll see what you answer, and can correct it." in shop.says("ria", invited[0])
    told = len(shop.told("mo"))
    shop.says("ria", "it is blue")
    assert len(shop.told("mo")) == told, "nothing is shared before the yes"
    shop.says("ria", "yes")
    assert shop.code("ria") == code
    assert shop.roomy.screens["ria"][-1].reply.question is not None, "the rider is asked directly"
    shop.says("tom", invited[0])
    assert shop.held("tom") is None or shop.code("tom") != code, "it works once"
    before = len(shop.told("mo"))
    shop.says("ria", "it has 12 splines")
    assert "it has 12 splines" in "\n".join(shop.told("mo")[before:])
    shop.says("mo", "no, it is 4 notches")
    shop.says("mo", "it stays still")
    held = shop.held("ria")
    assert held is not None
    assert [event.by for event in held.case.events if isinstance(event, Answered)] == ["rider", "mentor", "mentor"]
    shop.says("ria", ends)
    if ends == "forget me":
        shop.says("ria", "yes")
    before = len(shop.told("ria"))
    shop.says("mo", "6 sprockets")
    assert len(shop.told("ria")) == before
    assert_exists(
        "tests/channels/matrix/test_two_channels.py::test_somebody_helps_on_matrix_and_the_rider_answers_on_telegram"
    )
