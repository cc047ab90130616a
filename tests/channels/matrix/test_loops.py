"""Alone in a room with a program, on a real server."""

import pytest

from tests.channels.matrix.conftest import People
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.person import Person
from tests.channels.matrix.stage import Stage, Stages
from tests.channels.matrix.staged import stage, stages
from triagebot.channels.matrix import layout
from triagebot.channels.matrix.http import path_of
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
    assert not [each for each in said_by(stage, echo, room) if "a person will help" in each.body], "it asked for nobody"


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_another_of_its_own_kind_is_never_answered(stages: Stages, people: People, encrypted: bool) -> None:
    ada, one, other = await people("ada"), await stages(), await stages()
    room = await ada.create_group_room(one.user, other.user, encrypted=encrypted)
    for bot in (one, other):
        await ada.sees_join(room, bot.user)
    both = f"{one.user} and {other.user}: it has 6 sprockets"
    said = await ada.say(room, both)
    for bot in (one, other):
        await ada.sees(lambda heard, bot=bot: heard.sender == bot.user and "6 sprockets" in heard.body)  # type: ignore[misc]
        await bot.until(lambda bot=bot: said in bot.taken)  # type: ignore[misc]
        await bot.quiet()
    await ada.leave(room)  # now each is alone with the other, where everything is for it
    for bot in (one, other):
        await bot.until(lambda bot=bot: bot.channel._connection.members(room) == 2)  # type: ignore[misc]
    received = [bot.delivery.counts.received for bot in (one, other)]
    for number, bot in enumerate((one, other)):
        content = layout.message(layout.Part("How many sprockets (cogs) are there at the back?"), {"room": room})
        await bot.channel._connection.send(room, "m.room.message", content, f"other-{number}")
        await bot.channel._connection.send(room, "m.reaction", layout.number("1", said), f"number-{number}")
    for number, bot in enumerate((one, other)):  # what comes behind it has been taken in, and nothing of that answered
        syncs = bot.syncs
        topic = path_of("rooms", room, "send", "org.example.mark", f"mark-{number}")
        await (one, other)[1 - number].channel._connection._http.request("PUT", topic, {})
        await bot.until(lambda bot=bot, syncs=syncs: bot.syncs > syncs)  # type: ignore[misc]
        await bot.quiet()
    assert [bot.delivery.counts.received for bot in (one, other)] == received


async def test_two_bridges_that_bring_every_word_back_hear_few(stage: Stage, people: People) -> None:
    """Their ghosts are accounts like any other; each says what the bot said, to whom it was, with its name before."""
    ada, ghosts = await people("ada"), [await people("ghost"), await people("spirit")]
    room = await ada.create_group_room(stage.user, *(ghost.user_id for ghost in ghosts))
    await ada.sees_join(room, stage.user)
    for ghost in ghosts:
        await ghost.until(lambda ghost=ghost: room in ghost.client.invited_rooms)  # type: ignore[misc]
        await ghost.join(room)
    name, said = stage.user[1:].partition(":")[0], 0
    await ada.say(room, "it has 6 sprockets", mention=stage.user)
    await ada.hears(lambda heard: heard.sender == stage.user)
    while len(told := said_by(stage, ada, room)) > said:
        assert len(told) <= 2 * (2 + ECHOES) + 1, [each.body for each in told]
        new, said = told[said:], len(told)
        for each in new:
            for ghost in ghosts:
                event = await ghost.say(room, f"{name}: {each.body}")
                await stage.until(lambda event=event: event in stage.taken)  # type: ignore[misc]
        await stage.quiet()
        mark = await ada.say(room, "tick")
        await ada.sees(lambda heard, mark=mark: heard.event_id == mark)  # type: ignore[misc]
    stopped = [each for each in told if "You seem to be a program" in each.body]
    assert {each.mentions for each in stopped} == {(ghost.user_id,) for ghost in ghosts}
    answered = await ada.say(room, "it stays still", mention=stage.user)
    heard = await ada.hears(lambda heard: heard.reply_to == answered)
    assert "stays still" in heard.body, "people in that room are still heard"
