"""Alone in a room with a program, on a real server."""

import pytest

from tests.channels.matrix.conftest import People
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.person import Person
from tests.channels.matrix.stage import Stage
from tests.channels.matrix.staged import stage, stages
from triagebot.turns.loops import ECHOES

__all__ = ["stage", "stages"]

pytestmark = pytest.mark.asyncio


def said_by(stage: Stage, person: Person, room: str) -> list[Heard]:
    """Every message of the bot's there, without changes of earlier ones."""
    return [each for each in person.seen if each.is_message and each.sender == stage.user and each.room == room]


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_an_echo_hears_one_sentence_and_then_nothing(stage: Stage, people: People, encrypted: bool) -> None:
    echo = await people("echo")
    room = await stage.meet(echo, encrypted)
    while True:
        heard = await echo.hears(room=room)
        await echo.say(room, heard.body)
        if "You seem to be a program" in heard.body:
            break
    await echo.say(room, heard.body)
    await stage.quiet()
    assert len(said_by(stage, echo, room)) <= 2 * (2 + ECHOES), "a picture and a text each at most"
    (held,) = stage.cases(echo.user_id)
    assert held
