"""Somebody's first message: what the bot does is told before all else, and nothing beside the point."""

import pytest

from tests.words import words_of
from triagebot.conversation import Guide, Message, open_case, turn
from triagebot.conversation.blocks import Remark
from triagebot.conversation.reply import Reply
from triagebot.testing import START


def first_reply(guide: Guide, text: str) -> Reply:
    return turn(guide, open_case(guide, "AAA-001", "en", START), Message(text), START).reply


def said(guide: Guide, name: str, **values: object) -> str:
    return guide.language("en").texts(name, **values)


@pytest.mark.parametrize(
    "text",
    [
        "how do I get the cogs off my bike?",
        "hi there, got a wheel here from my daughters bike and the cogs need to come off, how do i do that?",
        "hello how do i get the sprocket off the wheel",
        "I want to take the gears off my back wheel. how does that work?",
        "I need to remove the rear cogs",
        "how much to take my cassette off",
        "my chain skips, do i need a new cassette",
    ],
)
def test_what_the_bot_does_goes_before_all_else(guide: Guide, text: str) -> None:
    reply = first_reply(guide, text)
    assert isinstance(reply.blocks[0], Remark)
    assert reply.blocks[0].about == "greeting"
    assert said(guide, "topic-purpose") in reply.blocks[0].text
    assert reply.question is not None


def test_the_names_that_people_mix_up_are_spoken_of_to_who_used_one(guide: Guide) -> None:
    mixed = said(guide, "question-spin.touched")
    assert mixed in words_of(first_reply(guide, "I have a freewheel"))
    assert mixed not in words_of(first_reply(guide, "I need to remove the rear cogs"))


@pytest.mark.parametrize("text", ["can you help me", "is this a bot"])
def test_who_says_who_it_is_says_so_once(guide: Guide, text: str) -> None:
    assert words_of(first_reply(guide, text)).count(guide.shop.name) == 1
