"""Two people talk, in plain and in encrypted rooms: all that one does, the other sees."""

import asyncio

import nio
import pytest

from tests.channels.matrix.conftest import People
from tests.channels.matrix.device import Refused
from tests.channels.matrix.heard import Heard
from tests.channels.matrix.person import Person

pytestmark = pytest.mark.asyncio

BOTH = pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])


async def together(ada: Person, bea: Person, encrypted: bool) -> str:
    room = await ada.create_direct_room(bea.user_id, encrypted)
    invited = await bea.sees(lambda heard: heard.kind == "invite" and heard.room == room)
    assert invited.sender == ada.user_id
    await bea.join(room)
    await ada.sees_join(room, bea.user_id)
    await bea.sees_join(room, ada.user_id)
    return room


@BOTH
async def test_what_one_does_the_other_sees(people: People, encrypted: bool) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await together(ada, bea, encrypted)

    said = await ada.say(room, "Two notches", html="<b>Two</b> notches", mention=bea.user_id)
    heard = await bea.hears()
    assert heard == Heard(
        said,
        room,
        ada.user_id,
        "m.text",
        "Two notches",
        "<b>Two</b> notches",
        mentions=(bea.user_id,),
        encrypted=encrypted,
    )
    mine = await ada.sees(lambda each: each.event_id == said)
    assert mine.tx is not None

    await ada.edit(room, said, "Four notches")
    edit = await bea.sees(lambda each: each.replaces == said)
    assert (edit.kind, edit.body, edit.encrypted, edit.is_message) == ("m.text", "Four notches", encrypted, False)

    reaction = await bea.react(room, said, "2\ufe0f\u20e3")
    seen = await ada.sees(lambda each: each.kind == "m.reaction")
    assert (seen.event_id, seen.body, seen.about, seen.encrypted) == (reaction, "2\ufe0f\u20e3", said, False)
    await bea.redact(room, reaction)
    assert (await ada.sees(lambda each: each.kind == "m.room.redaction")).body == reaction

    await bea.say(room, "in the thread", thread=said)
    threaded = await ada.hears()
    assert (threaded.thread, threaded.reply_to, threaded.body) == (said, said, "in the thread")
    answer = await bea.say(room, "plain reply", reply_to=said)
    replied = await ada.hears()
    assert (replied.event_id, replied.thread, replied.reply_to) == (answer, None, said)
    await bea.say(room, "with a quotation", reply_to=heard)
    assert (await ada.hears()).body == f"> <{ada.user_id}> Two notches\n\nwith a quotation"

    await bea.types(room)
    await ada.sees(lambda each: (each.kind, each.sender, each.body) == ("typing", bea.user_id, "yes"))
    await bea.types(room, False)
    await ada.sees(lambda each: (each.kind, each.sender, each.body) == ("typing", bea.user_id, "no"))
    await bea.reads(room, said)
    assert (await ada.sees(lambda each: each.kind == "read")).event_id == said
    await ada.say(room, "a notice", kind="m.notice")
    assert (await bea.hears()).kind == "m.notice"
    await ada.send_raw(room, "org.example.poll", {"question": "how many?"})
    assert (await bea.sees(lambda each: each.kind == "org.example.poll")).content["question"] == "how many?"
    assert (ada.gaps, bea.gaps) == (0, 0)


@BOTH
async def test_pictures_are_encrypted_where_the_room_is(people: People, encrypted: bool) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await together(ada, bea, encrypted)
    picture = bytes(range(256)) * 300
    await ada.send_photo(room, picture, name="hub.png")
    heard = await bea.hears()
    assert (heard.kind, heard.body, "file" in heard.content) == ("m.image", "hub.png", encrypted)
    assert await bea.fetch(heard) == picture
    if encrypted:
        stored = await bea.client.download(heard.content["file"]["url"])
        assert isinstance(stored, nio.MemoryDownloadResponse)
        assert (len(stored.body), stored.body != picture) == (len(picture), True)


async def test_a_key_that_was_kept_back_opens_the_message_when_it_comes(people: People) -> None:
    ada, bea, eve = await people("ada"), await people("bea"), await people("eve")
    room = await ada.create_group_room(bea.user_id, eve.user_id, encrypted=True)
    for other in (bea, eve):
        await other.join(room)
        await ada.sees_join(room, other.user_id)
    said, kept = await ada.say_unreadably(room, "24 mm", bea.user_id)
    assert (await eve.hears()).body == "24 mm"
    assert (await bea.sees(lambda each: each.event_id == said)).kind == "undecryptable"
    later = await ada.say(room, "as unreadable")
    assert (await bea.sees(lambda each: each.event_id == later)).kind == "undecryptable"
    await ada.hand_over(kept)
    assert [(await bea.hears()).body for _ in "12"] == ["24 mm", "as unreadable"]
    ada.new_key(room)
    await ada.say(room, "readable again")
    assert (await bea.hears()).body == "readable again"


async def test_another_device_of_somebody_can_read_from_then_on(people: People) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await together(ada, bea, encrypted=True)
    await ada.say(room, "before")
    assert (await bea.hears()).body == "before"
    tablet = await people("tablet", user_id=bea.user_id)
    known = ada.client.device_store
    await ada.until(lambda: len(list(known.active_user_devices(bea.user_id))) == 2)
    said = await ada.say(room, "after")
    for device in (bea, tablet):
        assert (await device.sees(lambda each: each.event_id == said)).body == "after"


@BOTH
async def test_an_upgraded_room_leaves_a_tombstone_and_is_joined_by_invitation(people: People, encrypted: bool) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await together(ada, bea, encrypted)
    new = await ada.upgrade_room(room)
    tombstone = await bea.sees(lambda each: each.kind == "m.room.tombstone")
    assert (tombstone.room, tombstone.body) == (room, new)
    with pytest.raises(Refused) as refused:
        await bea.join(new)
    assert refused.value.code == "M_FORBIDDEN"
    await ada.invite(new, bea.user_id)
    await bea.join(new)
    await ada.sees_join(new, bea.user_id)
    await ada.say(new, "moved")
    heard = await bea.hears()
    assert (heard.body, heard.room, heard.encrypted) == ("moved", new, encrypted)


async def test_who_has_too_little_power_is_not_heard(people: People) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await ada.create_group_room(bea.user_id)
    await bea.join(room)
    await ada.require_power_to_talk(room, 30)
    with pytest.raises(Refused) as refused:
        await bea.say(room, "may I?")
    assert refused.value.code == "M_FORBIDDEN"
    await ada.set_power_level(room, bea.user_id, 40)
    said = await bea.say(room, "now I may")
    assert (await ada.hears()).event_id == said


async def test_leaving_and_being_sent_away_are_seen(people: People) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await ada.create_group_room(bea.user_id)
    await bea.join(room)
    await ada.sees(lambda each: (each.kind, each.about, each.body) == ("m.room.member", bea.user_id, "join"))
    await ada.kick(room, bea.user_id)
    away = await bea.sees(lambda each: (each.kind, each.about, each.body) == ("m.room.member", bea.user_id, "leave"))
    assert away.sender == ada.user_id
    await ada.leave(room)
    with pytest.raises(Refused):
        await ada.say(room, "to an empty room")


async def test_waiting_ends_and_says_what_was_seen(people: People) -> None:
    ada = await people("ada")
    room = await ada.create_group_room()
    await ada.say(room, "to myself")
    await ada.sees(lambda each: each.body == "to myself")
    with pytest.raises(TimeoutError, match="to myself"):
        await ada.hears(timeout=0.1)


async def test_many_messages_at_once_come_in_order_and_each_once(people: People) -> None:
    ada, bea = await people("ada"), await people("bea")
    room = await together(ada, bea, encrypted=True)
    said = [await ada.say(room, str(number)) for number in range(30)]
    heard = [await bea.hears() for _ in said]
    assert [each.event_id for each in heard] == said
    await asyncio.sleep(0.1)
    assert sum(each.is_message for each in bea.seen) == len(said)
