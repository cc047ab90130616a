"""The whole conversation between two in rooms of a real homeserver, plain and encrypted."""

import asyncio
import io
import re

import pytest
from PIL import Image

from tests.channels.matrix.conftest import People
from tests.channels.matrix.faults import FOR_EVER, Faults, forbidden, held
from tests.channels.matrix.stage import Rider, Stage
from tests.channels.matrix.staged import BOTH, EITHER, stage, stages
from tests.effort import effort

__all__ = ["stage", "stages"]

pytestmark = pytest.mark.asyncio


@pytest.mark.parametrize(
    ("encrypted", "reacts"),
    [(False, False), (True, True), *effort((), ((False, True), (True, False)))],
    ids=["plain, typed", "encrypted, by number", *effort((), ("plain, by number", "encrypted, typed"))],
)
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
    numbers = [*(f"{number}\ufe0f\u20e3" for number in range(1, len(listed) + 1)), *("🤷", "❓", "↩️")]
    await ada.sees(lambda heard: heard.about == asked.event_id and heard.body == numbers[-1])
    # The first question has numbers, too, where it was answered late enough.
    under = [heard for heard in ada.seen if heard.kind == "m.reaction" and heard.about == asked.event_id]
    assert [heard.body for heard in under] == numbers


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
        assert "How many splines" in picture.body, "one event: the question is the picture's caption"
        assert "\n\nIn the picture: " in picture.body
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


@EITHER
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
    assert (late.kind, "something has changed" in late.body) == ("m.notice", True)


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


@EITHER
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
