"""The whole conversation in rooms of a real homeserver, plain and encrypted."""

import asyncio
import io
import re
from collections.abc import AsyncIterator
from itertools import count
from pathlib import Path

import pytest
import pytest_asyncio
from PIL import Image

from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.faults import FOR_EVER, Faults, broken, forbidden, gateway, held, lost, too_fast
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.stage import Rider, Stage, Stages, account
from triagebot.channels.matrix import channel

pytestmark = pytest.mark.asyncio

BOTH = pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
_NUMBERS = count(1)


@pytest_asyncio.fixture
async def stages(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[Stages]:
    """`await stages()` is a bot at work behind the bad line, with an account of its own."""
    made: list[Stage] = []

    async def start(**more: object) -> Stage:
        user = await homeserver.register(f"wheels-{next(_NUMBERS)}", PASSWORD)
        made.append(Stage(account(line.url, user, **more), tmp_path / f"stage-{len(made)}"))
        await made[-1].start()
        return made[-1]

    yield start
    await asyncio.gather(*(stage.stop() for stage in made))


@pytest_asyncio.fixture
async def stage(stages: Stages) -> Stage:
    return await stages()


@BOTH
@pytest.mark.parametrize("reacts", [False, True], ids=["typed", "by number"])
async def test_from_hello_to_the_remover(stage: Stage, people: People, encrypted: bool, reacts: bool) -> None:
    ada = await people("ada")
    room = await stage.meet(ada, encrypted)
    rider = Rider(ada, room, reacts=reacts)
    hello = await rider.next()
    assert "I’m the bot" in hello.body
    end = await rider.to_the_end(hello)
    told = [heard.body for heard in ada.seen if heard.sender == stage.user and "Remover:" in heard.body]
    assert "the 4-notch freewheel remover, 24 mm" in told[0]
    assert all(heard.encrypted == encrypted for heard in ada.seen if heard.is_message)
    assert end.kind == "m.image", "the answer is the picture's own caption"


async def test_hello_is_said_once_a_room(stage: Stage, people: People) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    await stage.restart()
    await rider.say("6 sprockets")
    await stage.quiet()
    said = [heard.body for heard in ada.seen if heard.sender == stage.user and heard.is_message]
    assert sum("I’m the bot" in body for body in said) == 1
    other = Rider(ada, await stage.meet(ada))
    assert "How many splines" in (await other.next()).body, "their case goes on in another room"


# --- what is shown --------------------------------------------------------------------------------------------------


async def test_a_question_shows_its_answer_and_numbers_to_pick_from(stage: Stage, people: People) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    first = await rider.next()
    asked = await rider.say("9 sprockets")
    changed = await ada.sees(lambda heard: heard.replaces == first.event_id)
    assert changed.body.endswith("✓ there are 9 sprockets at the back")
    assert "How many sprockets" in changed.body
    assert "<em>✓ there are 9 sprockets" in (changed.html or "")
    listed = re.findall(r"^\d+\. ", asked.body, re.MULTILINE)
    assert len(listed) >= 2
    await ada.sees(lambda heard: heard.kind == "m.reaction" and heard.body == f"{len(listed)}\ufe0f\u20e3")
    under = [heard for heard in ada.seen if heard.kind == "m.reaction"]
    assert [heard.body for heard in under] == [f"{number}\ufe0f\u20e3" for number in range(1, len(listed) + 1)]
    assert {heard.about for heard in under} == {asked.event_id}


@BOTH
async def test_a_picture_says_what_it_shows_and_is_uploaded_once(
    stage: Stage, people: People, line: Faults, encrypted: bool
) -> None:
    pictures = []
    for name in ("ada", "bob"):
        who = await people(name)
        rider = Rider(who, await stage.meet(who, encrypted))
        await rider.next()
        await rider.say("6 sprockets")
        (picture,) = [heard for heard in who.seen if heard.kind == "m.image"]
        assert picture.body.startswith("In the picture: ")
        assert (await who.fetch(picture)).startswith(b"\x89PNG")
        assert picture.content["info"]["w"] == 1000
        pictures.append(picture.content.get("file", picture.content).get("url"))
    assert pictures[0] == pictures[1]
    assert sum("/media/" in call.path and call.method == "POST" for call in line.calls) == 1


async def test_a_picture_that_the_server_does_not_take_holds_up_no_words(
    stage: Stage, people: People, line: Faults
) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    line.script("POST", r"/media/", forbidden(), times=FOR_EVER)
    assert "How many splines" in (await rider.say("6 sprockets")).body
    assert [heard for heard in ada.seen if heard.kind == "m.image"] == []


async def test_what_was_read_is_marked_and_typing_is_shown_while_it_takes_long(
    stage: Stage, people: People, line: Faults
) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    shown = asyncio.Event()
    line.script("PUT", r"/send/m\.room\.message", held(shown), times=1)
    said = await ada.say(rider.room, "6 sprockets")
    await ada.sees(lambda heard: heard.kind == "read" and heard.event_id == said)
    await ada.sees(lambda heard: (heard.kind, heard.body) == ("typing", "yes"))
    shown.set()
    await rider.next()
    await ada.sees(lambda heard: (heard.kind, heard.body) == ("typing", "no"))


# --- what people do -------------------------------------------------------------------------------------------------


@BOTH
async def test_a_correction_corrects_and_a_reaction_taken_away_does_not(
    stage: Stage, people: People, encrypted: bool
) -> None:
    ada = await people("ada")
    room = await stage.meet(ada, encrypted)
    rider = Rider(ada, room)
    await rider.next()
    said = await ada.say(room, "6 sprockets")
    await rider.next()
    await ada.edit(room, said, "9 sprockets")
    asked = await rider.next()
    assert "9 sprockets" in asked.body
    reaction = await ada.react(room, asked.event_id, "①")
    taken = await rider.next()
    assert "it turns" in taken.body
    await ada.react(room, asked.event_id, "👍")
    await ada.redact(room, reaction)
    await ada.say(room, "case")
    assert "Your case code" in (await rider.next()).body
    why = (await rider.say("why")).body
    assert "So far: the middle turns with the sprockets and there are 9 sprockets at the back." in why


async def test_a_number_under_an_older_question_is_told_to_be_late(stage: Stage, people: People) -> None:
    ada = await people("ada")
    room = await stage.meet(ada)
    rider = Rider(ada, room)
    await rider.next()
    asked = await rider.say("9 sprockets")
    await rider.say("I don’t know")
    await ada.react(room, asked.event_id, "1️⃣")
    late = await rider.next()
    assert (late.kind, "changed since" in late.body) == ("m.notice", True)


@BOTH
async def test_a_photo_is_kept_for_the_person_who_will_look(stage: Stage, people: People, encrypted: bool) -> None:
    ada = await people("ada")
    room = await stage.meet(ada, encrypted)
    rider = Rider(ada, room)
    await rider.next()
    drawn = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(drawn, "PNG")
    await ada.send_photo(room, drawn.getvalue())
    kept = await rider.next()
    assert (kept.kind, "I’ll keep it for the person" in kept.body) == ("m.notice", True)
    await stage.until(lambda: stage.delivery.counts.photos_kept == 1)
    await ada.send_raw(room, "m.sticker", {"body": "a wheel", "url": "mxc://x/y", "info": {}})
    assert "I can only read words" in (await rider.next()).body


@BOTH
async def test_in_a_thread_the_bot_stays_in_it(stage: Stage, people: People, encrypted: bool) -> None:
    ada = await people("ada")
    room = await stage.meet(ada, encrypted)
    rider = Rider(ada, room)
    hello = await rider.next()
    await ada.say(room, "9 sprockets", thread=hello.event_id)
    asked = await rider.next()
    assert asked.thread == hello.event_id
    await ada.react(room, asked.event_id, "2️⃣")
    assert (await rider.next()).thread == hello.event_id


async def test_forgetting_in_words(stage: Stage, people: People) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    await rider.say("6 sprockets")
    sure = await rider.say("!forget")
    assert "(Yes, delete it · No, keep it)" in sure.body
    assert "I’ve deleted everything" in (await rider.say("yes, delete it")).body
    await stage.quiet()
    assert stage.cases(ada.user_id) == [""]
    assert "How many sprockets" in (await rider.say("hello")).body


async def test_where_somebody_wrote_is_forgotten_on_the_disk(stage: Stage, people: People) -> None:
    ada = await people("ada")
    room = await stage.meet(ada)
    rider = Rider(ada, room)
    hello = await rider.next()
    for text in ("6 sprockets", "forget me"):
        await ada.say(room, text, thread=hello.event_id)
        await rider.next()
    assert ada.user_id in (await stage.delivery.place("matrix") or "")
    await ada.say(room, "yes, delete it", thread=hello.event_id)
    await rider.next()
    await stage.until(lambda: ada.user_id not in stage.channel._kept)
    assert ada.user_id not in (await stage.delivery.place("matrix") or "")


async def test_a_message_that_cannot_be_opened_is_told_once_and_counts_when_its_key_comes(
    stage: Stage, people: People
) -> None:
    ada = await people("ada")
    room = await stage.meet(ada, encrypted=True)
    rider = Rider(ada, room)
    await rider.next()
    _, kept = await ada.say_unreadably(room, "6 sprockets", stage.user)
    told = await rider.next()
    assert (told.kind, "write it once more" in told.body) == ("m.notice", True)
    more = await ada.say(room, "it stays still")
    await stage.until(lambda: more in stage.channel._kept)
    await stage.restart()
    await ada.hand_over(kept)
    assert "6 sprockets" in (await rider.next()).body
    assert "stays still" in (await rider.next()).body
    assert sum("write it once more" in heard.body for heard in ada.seen if heard.is_message) == 1


# --- groups ---------------------------------------------------------------------------------------------------------


@BOTH
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
    assert hello.body.startswith("Ada: 6 sprockets, then.")
    assert hello.html is None
    assert (await bob.say("9 sprockets")).body.startswith("Bob: 9 sprockets, then.")
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
        await eve.until(lambda room=room: stage.user not in eve.client.rooms[room].users)  # type: ignore[misc]
    await Rider(ada, await stage.meet(ada)).next()
    lines = [record.getMessage() for record in caplog.records if "invitations" in record.getMessage()]
    assert lines == ["matrix: invitations are declined: people of wheels.test may not, see TRIAGEBOT_MATRIX_ALLOW"]


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


@BOTH
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
    own = [heard for heard in ada.seen if heard.sender == stage.user and heard.kind == "m.text" and not heard.replaces]
    assert len(own) == 3


async def test_the_longest_message_there_is_gets_an_answer(stage: Stage, people: People) -> None:
    ada = await people("ada")
    rider = Rider(ada, await stage.meet(ada))
    await rider.next()
    assert "6 sprockets" in (await rider.say("it has 6 sprockets and " + "é& <b> " * 7000)).body


@BOTH
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
    assert [heard.kind for heard in own] == ["m.text", "m.image", "m.text"]
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
    assert [heard for heard in ada.seen if heard.kind == "m.reaction"] == []


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
    await stage.until(lambda: stage.delivery.counts.refused >= 1)
    await ada.require_power_to_talk(hers.room, 0)
    assert "Your case code" in (await hers.say("case")).body
