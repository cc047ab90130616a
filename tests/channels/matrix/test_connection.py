"""The connection on a real homeserver: what is said is seen once, what is sent is read once."""

import asyncio
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from stat import S_IMODE

import pytest

from tests.channels.matrix.bot import Bot
from tests.channels.matrix.conftest import People
from tests.channels.matrix.faults import Fault, Faults, broken, cut, gateway, lost, too_fast
from triagebot.channels.matrix import backfill, sync
from triagebot.channels.matrix.connection import MatrixAway
from triagebot.channels.matrix.seen import Seen
from triagebot.delivery import TooLarge
from triagebot.messages import Gone, Refused

pytestmark = pytest.mark.asyncio


def texts(seen: list[Seen]) -> list[str]:
    return [each.text for each in seen]


async def test_there_and_back(bot: Bot, people: People) -> None:
    ada = await people("ada")
    for encrypted in (False, True):
        bot.seen.clear()
        room = await bot.meet(ada, encrypted)
        question = await bot.say(room, "How many splines?")
        assert (await ada.hears()).event_id == question
        before = datetime.now(UTC)
        said = await ada.say(room, "24 mm", reply_to=question)
        (seen,) = await bot.hears("24 mm")
        assert (seen.kind, seen.id, seen.sender, seen.name) == (
            "words",
            said,
            ada.user_id,
            ada.user_id[1:].split(":")[0],
        )
        assert (seen.room.id, seen.room.first, seen.room.direct, seen.room.encrypted) == (room, room, True, encrypted)
        assert seen.answers == question
        assert before - timedelta(seconds=5) < seen.at <= datetime.now(UTC)
        await bot.connection.typing(room, True)
        await bot.connection.read(room, said)
        for kind in ("typing", "read"):
            await ada.sees(lambda heard, where=(room, kind): (heard.room, heard.kind) == where)  # type: ignore[misc]


async def test_kinds_of_things(bot: Bot, people: People) -> None:
    ada = await people("ada")
    for encrypted in (False, True):
        bot.seen.clear()
        room = await bot.meet(ada, encrypted, group=True)
        question = await bot.say(room, "How many?")
        await ada.hears()
        said = await ada.say(room, "three", mention=bot.user)
        await ada.edit(room, said, "four")
        await ada.react(room, question, "1\ufe0f\u20e3")
        await ada.send_photo(room, b"a picture", name="hub.png")
        await ada.say(room, "a notice", kind="m.notice")
        await ada.send_raw(room, "m.room.message", {"msgtype": "m.audio", "body": "a.ogg", "url": "mxc://x/y"})
        await ada.say(room, "in a thread", thread=said)
        await ada.say(room, "to you", reply_to=question)
        await ada.say(room, "to me", reply_to=said)
        await ada.redact(room, await ada.say(room, "taken back"))
        await ada.say(room, "the end")
        await bot.hears("the end")
        words, correction, reaction, picture, audio, thread, ours, mine, *_ = bot.seen
        assert (words.text, words.mentions_us, words.room.direct) == ("three", True, True)
        assert (correction.kind, correction.text, correction.about) == ("correction", "four", said)
        assert (reaction.kind, reaction.text, reaction.about) == ("reaction", "1\ufe0f\u20e3", question)
        assert (picture.kind, picture.text, set(picture.file) >= {"key", "iv", "hashes"}) == ("picture", "", encrypted)
        assert await bot.connection.fetch(picture.file, 100) == b"a picture"
        with pytest.raises(TooLarge):
            await bot.connection.fetch(picture.file, 8)
        assert (audio.kind, audio.what) == ("thing", "audio")
        assert (thread.thread, thread.answers) == (said, "")
        assert (ours.answers, mine.answers) == (question, said)
        assert "a notice" not in texts(bot.seen)
        assert texts(bot.seen)[-1] == "the end"


async def test_whose_message_an_answer_is_about_matters_in_a_group(bot: Bot, people: People) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await bot.meet(ada, group=True)
    await ada.invite(room, bob.user_id)
    await bob.join(room)
    question = await bot.say(room, "How many?")
    told = await ada.say(room, "I count four")
    await bot.restart()  # it remembers nothing of its own
    await bob.say(room, "five", reply_to=question)
    await bob.say(room, "no, three", reply_to=told)
    await bob.say(room, "nobody in particular")
    await bot.hears("nobody in particular")
    answers = {seen.text: (seen.answers_us, seen.room.direct) for seen in bot.seen}
    assert answers["five"] == (True, False)
    assert answers["no, three"] == answers["nobody in particular"] == (False, False)


async def test_a_restart_at_the_same_place_loses_nothing_and_repeats_nothing(bot: Bot, people: People) -> None:
    ada = await people("ada")
    for encrypted in (False, True):
        bot.seen.clear()
        room = await bot.meet(ada, encrypted)
        await ada.say(room, "one")
        await bot.hears("one")
        await ada.say(room, "two")
        for _ in "12":
            assert texts(await bot.sync(keep=False)) == ["two"], "it was not kept, so it comes again"
        await bot.restart()
        await ada.say(room, "three")
        await bot.hears("three")
        await bot.restart()
        await ada.say(room, "four")
        await bot.hears("four")
        assert texts(bot.seen) == ["one", "two", "three", "four"]
        await bot.say(room, "after all that")
        assert (await ada.hears(room=room)).body == "after all that"


@pytest.fixture
def small_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """The server gives little at a time, so that few messages make a gap of many pages."""
    monkeypatch.setattr(sync, "_NEXT", sync._filter(limit=4))
    monkeypatch.setattr(backfill, "PAGE", 5)


async def test_a_gap_of_more_than_a_hundred_messages_is_filled(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada)
    await bot.connection.close()
    said = [str(number) for number in range(104)]
    for text in said:
        await ada.say(room, text)
    await bot.restart()
    await bot.hears(said[-1])
    assert texts(bot.seen) == said


@pytest.mark.usefixtures("small_answers")
async def test_a_gap_of_many_pages_is_filled_although_the_server_breaks_off(
    bot: Bot, people: People, line: Faults
) -> None:
    ada, bob = await people("ada"), await people("bob")
    room, other = await bot.meet(ada, encrypted=True), await bot.meet(bob)
    said = [str(number) for number in range(22)]
    for text in said:
        await ada.say(room, text)
        await bob.say(other, text)
    for fault in (broken(), gateway(), too_fast(3), cut()):
        line.script("GET", "/messages", fault, times=2)
        with pytest.raises(MatrixAway):
            await bot.hears("nothing of this name")
        line.fair()
    await bot.until(lambda: len(bot.seen) >= 44)
    for where in (room, other):
        assert [seen.text for seen in bot.seen if seen.room.id == where] == said


@pytest.mark.usefixtures("small_answers")
async def test_what_was_said_before_the_bot_came_is_not_its_business(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await ada.create_group_room(bot.user)
    for number in range(8):
        await ada.say(room, f"secret {number}")
    await bot.sync()
    for number in range(8):
        await ada.say(room, f"hello {number}")
    await bot.hears("hello 7")
    assert texts(bot.seen) == [f"hello {number}" for number in range(8)]
    await ada.kick(room, bot.user)
    await bot.until(lambda: bot.gone == [room])
    await ada.say(room, "while it was away")
    await ada.invite(room, bot.user)
    await bot.until(lambda: bot.connection.room(room))
    await ada.say(room, "back again")
    await bot.hears("back again")
    assert texts(bot.seen)[8:] == ["back again"]


@pytest.mark.parametrize("fault", [lost(), cut()], ids=lambda fault: fault.name)
async def test_an_answer_that_is_lost_makes_no_second_message(
    bot: Bot, people: People, line: Faults, fault: Fault
) -> None:
    ada = await people("ada")
    for encrypted in (False, True):
        bot.seen.clear()
        room = await bot.meet(ada, encrypted)
        line.script("PUT", "/send/", fault, times=2 if fault.lose else 1)
        with pytest.raises(Exception, match="no answer"):
            await bot.say(room, "once", tx="tb-1")
        sent = await bot.say(room, "once", tx="tb-1")
        await bot.restart()
        assert await bot.say(room, "once", tx="tb-1") == sent
        await bot.say(room, "the end")
        assert [(await ada.hears(room=room)).body for _ in "12"] == ["once", "the end"]


async def test_pictures_go_up_as_the_room_is(bot: Bot, people: People) -> None:
    ada = await people("ada")
    for encrypted in (False, True):
        bot.seen.clear()
        room = await bot.meet(ada, encrypted)
        place = await bot.connection.upload(b"splines", "image/png", encrypted)
        assert set(place) == ({"url", "v", "key", "iv", "hashes"} if encrypted else {"url"})
        where = {"file": dict(place)} if encrypted else dict(place)
        content = {"msgtype": "m.image", "body": "Twelve splines", **where}
        await bot.connection.send(room, "m.room.message", content, "picture")
        assert await ada.fetch(await ada.hears()) == b"splines"
        assert await bot.connection.fetch(place, 7) == b"splines"
        with pytest.raises(Gone):
            await bot.connection.fetch({"url": "mxc://wheels.test/nothing"}, 7)
        for wrong in ({}, {"url": 5}, {"url": "https://example.org/x"}, {"url": "mxc://a/b/c"}):
            with pytest.raises(Refused):
                await bot.connection.fetch(wrong, 7)
        if encrypted:
            with pytest.raises(Refused):
                await bot.connection.fetch({**place, "hashes": {"sha256": "AAAA"}}, 7)


async def test_a_reaction_that_stands_already_counts_as_sent(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    question = await bot.say(room, "How many?")
    about = {"m.relates_to": {"rel_type": "m.annotation", "event_id": question, "key": "1\ufe0f\u20e3"}}
    reaction = await bot.connection.send(room, "m.reaction", about, "r1")
    assert await bot.connection.send(room, "m.reaction", about, "r2") == ""
    stands = await ada.sees(lambda heard: heard.kind == "m.reaction")
    assert (stands.event_id, stands.about) == (reaction, question)


async def test_what_is_kept_can_be_read_by_nobody_else(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await ada.say(room, "a secret")
    await bot.hears("a secret")
    folder = Path(bot.made["data"]) / "matrix"
    assert S_IMODE(folder.stat().st_mode) == 0o700
    files = list(folder.iterdir())
    assert {path.name for path in files} >= {"session", "keys.db"}
    assert {S_IMODE(path.stat().st_mode) for path in files} == {0o600}
    token = bot.connection._http.token
    held = b"".join(path.read_bytes() for path in files)
    assert token.encode() not in held
    assert b"a secret" not in held


async def test_a_place_is_text_that_says_where_the_bot_stands(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada)
    assert json.loads(bot.place or "")["rooms"] == {room: room}
    waiting = asyncio.create_task(bot.sync())
    await asyncio.sleep(0.3)
    assert not waiting.done(), "nothing happens, so the server holds the sync open"
    await ada.say(room, "something")
    assert texts(await waiting) == ["something"]
