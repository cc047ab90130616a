"""Encrypted rooms: what cannot be read is told, kept and read later; what is sent can be read, or is not sent."""

import asyncio
import logging
from pathlib import Path

import pytest
from nio.event_builders import ToDeviceMessage

from tests.channels.matrix.bot import Bot, Bots
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.faults import Fault, Faults, broken, dropped, gateway, too_fast
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.person import KeptBack, Person
from tests.store.ciphers import throw_away_cipher
from triagebot.channels.matrix import keys
from triagebot.messages import RetryAfter, Transient

pytestmark = pytest.mark.asyncio

NONE_LEFT = Fault("none left", status=200, body={"one_time_keys": {}, "failures": {}})


async def reads(person: Person, text: str) -> bool:
    """Whether the person can read it; waits for that or the opposite."""
    found = await person.sees(lambda heard: heard.body == text or heard.kind == "undecryptable")
    return found.body == text


async def test_a_message_whose_key_comes_late_is_told_and_then_read(bot: Bot, people: People, line: Faults) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    said, kept = await ada.say_unreadably(room, "24 mm", bot.user)
    more = await ada.say(room, "or 25")
    undecryptable = await bot.sees(lambda seen: seen.id == more)
    assert [(seen.kind, seen.id, seen.text) for seen in bot.seen] == [
        ("undecryptable", said, ""),
        ("undecryptable", more, ""),
    ]
    assert undecryptable.room.encrypted
    for seen in bot.seen:
        await bot.connection.ask_for_key(seen)
    asked = await ada.until(lambda: line.asked("PUT", "/sendToDevice/m.room_key_request"))
    assert len(asked) == 1, "once a key"
    await bot.restart()
    ada.new_key(room)
    await ada.say(room, "anyway")
    await bot.hears("anyway")
    await ada.hand_over(kept)
    await bot.sees(lambda seen: seen.id == more and seen.kind == "words")
    assert [(seen.kind, seen.text) for seen in bot.seen[2:]] == [
        ("words", "anyway"),
        ("words", "24 mm"),
        ("words", "or 25"),
    ]
    assert '"locked":[]' in (bot.place or "")


async def test_a_key_that_came_just_before_a_crash_opens_what_waits(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    said, kept = await ada.say_unreadably(room, "24 mm", bot.user)
    await bot.sees(lambda seen: seen.id == said)
    await ada.hand_over(kept)
    while not (seen := await bot.sync(keep=False)):
        pass
    assert seen[0].text == "24 mm"
    bot.connection._syncer._keys.maintain = None  # type: ignore[assignment,method-assign]
    await bot.restart()  # as if it had been killed before this could be written down
    await bot.hears("24 mm")
    assert [each.kind for each in bot.seen] == ["undecryptable", "words"]


@pytest.mark.parametrize("path", ["/keys/query", "/keys/claim", "/sendToDevice/", "/send/m.room.encrypted"])
async def test_on_a_bad_line_a_message_can_be_read_or_is_not_sent(
    bot: Bot, people: People, line: Faults, path: str
) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(bot.user, encrypted=True)
    await bot.until(lambda: bot.connection.room(room))
    await ada.sees_join(room, bot.user)
    if bot.connection._maintaining is not None:
        await bot.connection._maintaining
    bot.connection._keys.client.olm.users_for_key_query.add(ada.user_id)
    for fault in (broken(), gateway(), dropped(), too_fast(1234)):
        script = line.script("*", path, fault, times=2)
        with pytest.raises((Transient, RetryAfter)) as raised:
            await bot.say(room, "can you read this?", tx="tb-1")
        assert (raised.type is RetryAfter) == (fault.status == 429)
        assert script.left < 2
        line.fair()
    await bot.say(room, "can you read this?", tx="tb-1")
    assert await reads(ada, "can you read this?")
    assert len([heard for heard in ada.seen if heard.sender == bot.user and heard.is_message]) == 1


async def test_a_device_that_had_no_key_left_reads_what_comes_once_it_has(
    bot: Bot, people: People, line: Faults, monkeypatch: pytest.MonkeyPatch
) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await bot.meet(ada, encrypted=True)
    with line.during("POST", "/keys/claim", NONE_LEFT), pytest.raises(Transient, match="no device"):
        await bot.say(room, "for nobody")
    await bot.say(room, "for ada")
    assert await reads(ada, "for ada")
    await ada.invite(room, bob.user_id)
    await bob.join(room)
    await bob.sees_join(room, bot.user)
    await bot.until(lambda: bot.connection.members(room) == 3)
    with line.during("POST", "/keys/claim", NONE_LEFT):
        await bot.say(room, "not for bob")  # one who cannot be reached holds nobody else up
    assert not await reads(bob, "not for bob")
    monkeypatch.setattr(keys, "TRIED_AGAIN", 0.0)
    await bot.say(room, "for bob as well")
    await bob.sees(lambda heard: heard.body == "for bob as well")
    await ada.sees(lambda heard: heard.body == "for bob as well")


async def test_who_goes_reads_no_more_and_who_comes_reads_what_follows(bot: Bot, people: People) -> None:
    ada, bob = await people("ada"), await people("bob")
    room = await bot.meet(ada, encrypted=True, group=True)
    await ada.invite(room, bob.user_id)
    await bob.join(room)
    await bob.sees_join(room, bot.user)
    await bot.until(lambda: bot.connection.members(room) == 3)
    await bot.say(room, "for both")
    assert await reads(bob, "for both")
    before = bot.connection._keys.client.olm.outbound_group_sessions[room].id
    await ada.kick(room, bob.user_id)
    await bot.until(lambda: bot.connection.members(room) == 2)
    await bot.say(room, "for ada")
    assert bot.connection._keys.client.olm.outbound_group_sessions[room].id != before
    tablet = await people("tablet", user_id=ada.user_id)
    await tablet.until(lambda: room in tablet.client.rooms)
    await bot.until(lambda: ada.user_id in bot.connection._keys.client.olm.users_for_key_query)
    await bot.say(room, "on all devices")
    await tablet.sees(lambda heard: heard.body == "on all devices")


async def test_keys_are_there_for_everybody_who_comes(bot: Bot, people: People, line: Faults) -> None:
    ada = await people("ada")

    async def claimed(number: int) -> set[str]:
        wanted = {"one_time_keys": {bot.user: {bot.connection.device_id: "signed_curve25519"}}}
        given = [await ada.ask("POST", "keys/claim", wanted) for _ in range(number)]
        found = [each["one_time_keys"][bot.user][bot.connection.device_id].popitem()[1] for each in given]
        return {each["key"] for each in found}

    before = await claimed(55)
    assert len(before) == 51, "all of them, and then the last resort again and again"
    await bot.meet(ada)  # the server tells, and more are published
    await ada.until(lambda: len(line.asked("POST", "/keys/upload")) > 1)
    await asyncio.gather(*filter(None, [bot.connection._maintaining]))
    assert len(await claimed(3) - before) == 3


async def test_the_account_signs_the_device(bots: Bots, people: People, line: Faults) -> None:
    bot, ada = await bots(), await people("ada")
    assert bot.connection.cross_signed
    before = len(line.calls)
    await bot.restart()
    assert bot.connection.cross_signed
    assert not [call for call in line.calls[before:] if "/signatures/upload" in call.path], "once is enough"
    given = await ada.ask("POST", "keys/query", {"device_keys": {bot.user: []}})
    (owner,) = given["self_signing_keys"][bot.user]["keys"]
    assert owner in given["device_keys"][bot.user][bot.connection.device_id]["signatures"][bot.user]


async def test_signing_keys_of_an_ordinary_client_are_replaced_once(
    homeserver: Homeserver, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    user = await homeserver.register(f"bot-{tmp_path.name[-30:].lower()}", PASSWORD)
    made = [Bot(homeserver.url, user, tmp_path / name, throw_away_cipher(), password=PASSWORD) for name in "ab"]
    with caplog.at_level(logging.WARNING):
        for bot in made:  # the second has lost its folder, or the first was a person's client
            await bot.start()
            assert bot.connection.cross_signed
        assert len(caplog.messages) == 1
        assert "replaced" in caplog.messages[0]
        await made[0].restart()  # it does not fight over that
        assert "has not cross-signed" in caplog.messages[1]
    for bot in made:
        await bot.connection.close()


async def test_what_nobody_can_digest_is_passed_over(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await ada.say(room, "so that there is a session")
    await bot.hears("so that there is a session")
    mine = bot.connection._keys.client.olm.account.identity_keys["curve25519"]
    for body in ("", "AwgB", 5, None):
        sealed = {"algorithm": "m.olm.v1.curve25519-aes-sha2", "sender_key": "x", "ciphertext": {mine: body}}
        for content in (sealed, {**sealed, "ciphertext": {mine: {"type": 0, "body": body}}}, {"algorithm": body}):
            messages = {"messages": {bot.user: {"*": content}}}
            await ada.ask("PUT", f"sendToDevice/m.room.encrypted/{id(content)}-{body}", messages)
    session = next(iter(ada.client.olm.outbound_group_sessions.values()))
    for plain in (b"\xff\xfe", b"[]", b'{"type": 5}', b"{}"):
        megolm = {"algorithm": "m.megolm.v1.aes-sha2", "session_id": session.id, "device_id": ada.client.device_id}
        megolm["ciphertext"] = session._session.encrypt(plain).to_base64()
        megolm["sender_key"] = ada.client.olm.account.identity_keys["curve25519"]
        await ada.ask("PUT", f"rooms/{room}/send/m.room.encrypted/{plain.hex()}", megolm)
        await ada.ask("PUT", f"rooms/{room}/send/m.room.encrypted/b{plain.hex()}", {"algorithm": [], "ciphertext": {}})
    await ada.say(room, "the end")
    await bot.hears("the end")
    assert {seen.kind for seen in bot.seen} == {"words", "undecryptable"}


async def test_what_lacks_the_names_that_clients_need_no_longer_say_is_read(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await ada.say(room, "so that there is a key")
    sealed = ada.client.olm.group_encrypt(
        room, {"type": "m.room.message", "content": {"msgtype": "m.text", "body": "lean"}}
    )
    lean = {name: sealed[name] for name in ("algorithm", "ciphertext", "session_id")}
    await ada.ask("PUT", f"rooms/{room}/send/m.room.encrypted/lean", lean)
    assert (await bot.hears("lean"))[-1].kind == "words"


async def forward(person: Person, kept: KeptBack, maker: Person) -> None:
    """As clients answer a request for a key: whoever `person` is, they say that `maker` made it."""
    olm = maker.client.olm
    mine = olm.account.identity_keys
    session = olm.inbound_group_store.get(kept.room, mine["curve25519"], kept.session_id)
    content = {
        "algorithm": "m.megolm.v1.aes-sha2",
        "room_id": kept.room,
        "session_id": kept.session_id,
        "session_key": session.export_session(session.first_known_index),
        "sender_key": mine["curve25519"],
        "sender_claimed_ed25519_key": mine["ed25519"],
        "forwarding_curve25519_key_chain": [],
    }
    for device in person.client.device_store.active_user_devices(kept.reader):
        session = person.client.olm.session_store.get(device.curve25519)
        sealed = person.client.olm._olm_encrypt(session, device, "m.forwarded_room_key", content)
        await person.client.to_device(ToDeviceMessage("m.room.encrypted", device.user_id, device.id, sealed))


async def test_a_key_that_was_asked_for_is_taken_from_the_device_that_made_it_and_nobody_else(
    bot: Bot, people: People
) -> None:
    ada, eve = await people("ada"), await people("eve")
    room = await bot.meet(ada, encrypted=True, group=True)
    await ada.invite(room, eve.user_id)
    await eve.join(room)
    await eve.sees_join(room, bot.user)
    for person in (ada, eve):
        await person.say(room, "so that there is a session")
    said, kept = await ada.say_unreadably(room, "24 mm", bot.user)
    undecryptable = await bot.sees(lambda seen: seen.id == said)
    await forward(ada, kept, maker=ada)
    await ada.say(room, "nobody has asked yet")
    await bot.sees(lambda seen: seen.kind == "undecryptable" and seen.id != said)
    await bot.connection.ask_for_key(undecryptable)
    await forward(eve, kept, maker=ada)
    await eve.say(room, "it comes from eve")
    await bot.hears("it comes from eve")
    assert "24 mm" not in [seen.text for seen in bot.seen]
    await forward(ada, kept, maker=ada)
    await bot.hears("24 mm")
