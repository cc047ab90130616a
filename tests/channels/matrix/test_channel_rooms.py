"""Rooms of a real homeserver that are no plain talk of two: groups, bridges, invitations; and trouble on the way."""

import re

import pytest

from tests.channels.matrix.conftest import People
from tests.channels.matrix.faults import Faults, broken, gateway, lost, too_fast
from tests.channels.matrix.stage import Rider, Stage, Stages
from tests.channels.matrix.staged import EITHER, stage, stages
from triagebot.channels.matrix import channel

__all__ = ["stage", "stages"]

pytestmark = pytest.mark.asyncio


@EITHER
async def test_in_a_group_it_answers_the_person_who_speaks_to_it(stage: Stage, people: People, encrypted: bool) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await ada.create_group_room(stage.user, bob.user_id, encrypted=encrypted)
    await bob.until(lambda: room in bob.client.invited_rooms)
    await bob.join(room)
    await ada.sees_join(room, bob.user_id)
    await ada.sees_join(room, stage.user)
    await bob.sees_join(room, stage.user)
    hers, his = Rider(ada, room, bot=stage.user), Rider(bob, room, bot=stage.user)
    await ada.say(room, "has anybody got a chain whip?")
    asked = await ada.say(room, "it has 6 sprockets", mention=stage.user)
    said = await hers.next()
    assert "6 sprockets" in said.body, "nobody is greeted who did not ask"
    assert (said.reply_to, said.mentions) == (asked, (ada.user_id,))
    await his.next()
    await bob.say(room, "mine has 9 sprockets", reply_to=said.event_id)
    said = await his.next()
    assert ("9 sprockets" in said.body, said.mentions) == (True, (bob.user_id,))
    await ada.say(room, "hello?", thread=asked)
    await bob.say(room, f"{stage.user} I have 8 sprockets", thread=asked)
    said = await his.next()
    assert ("8 sprockets" in said.body, said.thread) == (True, asked)
    await bob.react(room, said.event_id, "1️⃣")
    said = await his.next()
    assert ("it turns" in said.body, said.thread) == (True, asked), "a number finds the thread of its question"
    await bob.say(room, "I don’t know", thread=asked)
    assert "Never mind." in (await his.next()).body
    await stage.quiet()
    codes = stage.cases(f"{room} - {ada.user_id}", f"{room} - {bob.user_id}", f"{room} {asked} {bob.user_id}")
    assert len(set(codes)) == 3
    assert all(codes)


async def test_a_room_that_is_upgraded_is_followed(stage: Stage, people: People) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await ada.create_group_room(stage.user, bob.user_id)
    await bob.until(lambda: room in bob.client.invited_rooms)
    await bob.join(room)
    await ada.sees_join(room, stage.user)
    await ada.say(room, "it has 6 sprockets", mention=stage.user)
    await Rider(ada, room).next()
    await stage.quiet()
    new = await ada.upgrade_room(room)
    await ada.invite(new, stage.user)
    await ada.invite(new, bob.user_id)
    await ada.sees_join(new, stage.user)
    await ada.say(new, "case", mention=stage.user)
    assert "Your case code" in (await Rider(ada, new).next()).body
    assert stage.cases(f"{new} - {ada.user_id}") == [""]
    assert stage.cases(f"{room} - {ada.user_id}") != [""]


# --- bridges --------------------------------------------------------------------------------------------------------


async def test_people_behind_a_bridge_do_everything_in_plain_text(stages: Stages, people: People) -> None:
    bridge = await people("bridge")
    stage = await stages(bridges={bridge.user_id: re.compile("<(?P<name>[^>]{1,64})> ")})
    room, name = await stage.meet(bridge), stage.user[1:].partition(":")[0]
    ada, bob = Rider(bridge, room, prefix=f"<Ada> {name}: "), Rider(bridge, room, prefix=f"<Bob> {name}, ")
    await bridge.say(room, "<Ada> has anybody got a chain whip?")
    hello = await ada.say("6 sprockets")
    assert hello.body.startswith("Ada: Hi, I’m the bot")
    assert "6 sprockets" in hello.body
    assert hello.html is None
    nine = await bob.say("9 sprockets")
    assert nine.body.startswith("Bob: Hi, I’m the bot")
    assert "9 sprockets" in nine.body
    end = await ada.to_the_end(await ada.say("!back"))
    told = [heard.body for heard in bridge.seen if "Remover: " in heard.body]
    assert "the 4-notch freewheel remover, 24 mm" in told[0]
    assert end.body.startswith("Ada: ")
    kinds = {heard.kind for heard in bridge.seen if heard.sender == stage.user}
    assert kinds & {"m.image", "m.reaction"} == set()
    assert [heard for heard in bridge.seen if heard.replaces] == []


# --- coming and going -----------------------------------------------------------------------------------------------


async def test_who_may_not_invite_it_is_declined_in_one_line(
    stages: Stages, people: People, caplog: pytest.LogCaptureFixture
) -> None:
    ada, eve = await people("ada"), await people("eve")
    stage = await stages(allow=(ada.user_id, "elsewhere.test"))
    for _ in range(2):
        room = await eve.create_direct_room(stage.user)
        left = await eve.sees(lambda heard, room=room: heard.room == room and heard.body == "leave")  # type: ignore[misc]
        assert "only join rooms of people" in left.content["reason"], "clients show it in the room"
    await Rider(ada, await stage.meet(ada)).next()
    lines = [record.getMessage() for record in caplog.records if "invitations" in record.getMessage()]
    assert lines == ["matrix: invitations are declined: people of wheels.test may not, see TRIAGEBOT_MATRIX_ALLOW"]


async def test_who_invites_it_too_often_is_told_where_they_talk_with_it(stage: Stage, people: People) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await stage.meet(ada)
    await Rider(ada, room).next()
    for _ in range(4):
        await stage.meet(ada)
    for _ in range(2):
        await ada.create_direct_room(stage.user)
    told = await ada.hears(lambda heard: "a lot of invitations" in heard.body)
    assert told.kind == "m.notice"
    await Rider(bob, await stage.meet(bob)).next()
    await stage.quiet()
    assert len([heard for heard in ada.seen if heard.is_message and "a lot of invitations" in heard.body]) == 1


async def test_an_invitation_from_while_it_was_away_is_followed(stage: Stage, people: People) -> None:
    ada = await people("ada")
    await stage.stop()
    room = await ada.create_direct_room(stage.user)
    await stage.start()
    await ada.sees_join(room, stage.user)
    assert "I’m the bot" in (await Rider(ada, room).next()).body


async def test_it_leaves_a_room_where_nobody_else_is_left(stage: Stage, people: People) -> None:
    ada = await people("ada")
    room = await stage.meet(ada)
    await Rider(ada, room).next()
    await ada.leave(room)
    await stage.until(lambda: room not in stage.channel._connection.rooms())


# --- trouble --------------------------------------------------------------------------------------------------------


@EITHER
async def test_a_restart_loses_nothing_and_repeats_nothing(stage: Stage, people: People, encrypted: bool) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada, encrypted))
    await rider.next()
    await stage.stop()
    await ada.say(rider.room, "6 sprockets")
    await ada.say(rider.room, "it stays still")
    await stage.start()
    assert "6 sprockets" in (await rider.next()).body
    assert "stays still" in (await rider.next()).body
    await stage.restart()
    await stage.synced()
    await stage.quiet()
    own = [heard for heard in ada.seen if heard.sender == stage.user and heard.is_message and not heard.replaces]
    assert len(own) == 3


async def test_the_longest_message_there_is_gets_an_answer(stage: Stage, people: People) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    assert "6 sprockets" in (await rider.say("it has 6 sprockets and " + "é& <b> " * 7000)).body


@EITHER
async def test_an_answer_of_the_server_that_is_lost_makes_no_second_message(
    stage: Stage, people: People, line: Faults, encrypted: bool
) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada, encrypted))
    await rider.next()
    line.script("PUT", r"/send/m\.room\.(message|encrypted)", lost(), times=4)
    await rider.say("6 sprockets")
    await stage.quiet()
    await ada.sees(lambda heard: bool(heard.replaces))
    last = await ada.say(rider.room, "case")  # what was sent twice would be seen before the answer to it
    assert "Your case code" in (await rider.next()).body
    before = ada.seen[: [heard.event_id for heard in ada.seen].index(last)]
    own = [heard for heard in before if heard.sender == stage.user and heard.is_message]
    assert [heard.kind for heard in own] == ["m.text", "m.image"]
    assert len([heard for heard in ada.seen if heard.replaces]) == 1


async def test_a_server_that_wants_fewer_events_gets_no_numbers(stage: Stage, people: People, line: Faults) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    line.script("PUT", r"/send/m\.room\.message", too_fast(300), times=1)
    asked = await rider.say("9 sprockets")
    assert any(text[:1].isdigit() for text in asked.body.splitlines())
    await stage.quiet()
    await rider.say("case")  # numbers would be seen before it
    assert [heard for heard in ada.seen if heard.kind == "m.reaction" and heard.about == asked.event_id] == []


async def test_the_server_goes_and_comes_back(
    stage: Stage, people: People, line: Faults, caplog: pytest.LogCaptureFixture
) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    caplog.clear()
    line.script("GET", r"/sync", gateway(), times=2)
    line.script("GET", r"/sync", broken(), times=1)
    await ada.say(rider.room, "6 sprockets")  # which ends the sync that is under way
    assert "6 sprockets" in (await rider.next()).body
    await ada.say(rider.room, "case")
    assert "Your case code" in (await rider.next()).body
    await stage.until(lambda: "works again" in caplog.text)
    lines = [r.getMessage() for r in caplog.records if r.name.endswith("matrix.channel") and r.levelname == "WARNING"]
    assert len(lines) == 3
    assert lines[-1] == "matrix: works again, after 3 failed attempts"
    assert "6 sprockets" not in caplog.text
    assert ada.user_id not in caplog.text


async def test_a_login_that_was_taken_back_is_told_in_one_line_and_made_anew(
    stage: Stage, people: People, line: Faults, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(channel, "REFUSED_AGAIN", 0.2)
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    caplog.clear()
    await stage.channel._connection._http.request("POST", "/_matrix/client/v3/logout", {})  # type: ignore[attr-defined]
    await ada.say(rider.room, "6 sprockets")
    assert "6 sprockets" in (await rider.next()).body
    await stage.until(lambda: "works again" in caplog.text)
    lines = [r.getMessage() for r in caplog.records if r.name.endswith("matrix.channel") and r.levelname == "WARNING"]
    assert "has logged" in lines[0]
    assert lines[1:] == ["matrix: works again, after 1 failed attempts"]


async def test_who_may_not_speak_keeps_everybody_elses_conversation_going(stage: Stage, people: People) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await ada.create_group_room(stage.user)
    hers, his = Rider(ada, room), Rider(bob, await stage.meet(bob))
    await hers.next()
    await his.next()
    await ada.require_power_to_talk(hers.room, 50)
    await ada.say(hers.room, "6 sprockets")
    assert "9 sprockets" in (await his.say("9 sprockets")).body
    await stage.until(lambda: stage.delivery.counts.retried >= 1)
    await ada.require_power_to_talk(hers.room, 0)
    assert "6 sprockets" in (await hers.next()).body, "what waited goes out as soon as it may"
    assert "Your case code" in (await hers.say("case")).body
    assert stage.delivery.counts.refused == 0
