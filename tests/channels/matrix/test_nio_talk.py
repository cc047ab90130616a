"""What nio does when it syncs and sends: the claims of `triagebot/channels/matrix/NOTES.md`."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import aiohttp
import nio
import pytest
import pytest_asyncio
from nio.event_builders import ToDeviceMessage

from tests.channels.matrix.bare import TEXT, bare, going_on, meet, shut, timeline
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.device import PATIENCE
from tests.channels.matrix.faults import Faults, broken, cut, gateway, lost, too_fast, unknown_token
from tests.channels.matrix.homeserver import Homeserver

pytestmark = pytest.mark.asyncio


@pytest_asyncio.fixture
async def bot(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[nio.AsyncClient]:
    user = await homeserver.register(f"bot-{tmp_path.name[-40:].lower()}-{id(line)}", PASSWORD)
    client = bare(line.url, user, tmp_path / "bot")
    await client.login(PASSWORD)
    await client.sync(0)
    await client.keys_upload()
    yield client
    await shut(client)


async def send(client: nio.AsyncClient, room: str, tx: str, text: str = "x") -> str:
    given = await client.room_send(room, "m.room.message", TEXT | {"body": text}, tx, ignore_unverified_devices=True)
    assert isinstance(given, nio.RoomSendResponse), given
    return str(given.event_id)


@pytest.mark.parametrize("fault", [broken(), unknown_token()], ids=lambda fault: fault.name)
async def test_sync_forever_asks_without_a_pause_on_errors(bot: nio.AsyncClient, line: Faults, fault) -> None:  # type: ignore[no-untyped-def]
    before = len(line.calls)
    with line.during("GET", "/sync", fault):
        syncing = asyncio.create_task(bot.sync_forever(30_000))
        async with asyncio.timeout(PATIENCE):  # with its back-off this would take an hour
            while len(line.calls) - before < 100:
                assert not syncing.done()
                await asyncio.sleep(0.01)
        syncing.cancel()
        await asyncio.gather(syncing, return_exceptions=True)


async def test_after_a_soft_logout_the_token_is_forgotten(bot: nio.AsyncClient, line: Faults) -> None:
    line.script("GET", "/sync", unknown_token(soft_logout=True))
    await bot.sync(0)
    assert bot.access_token == ""


async def test_a_first_sync_that_fails_loses_since(bot: nio.AsyncClient, line: Faults) -> None:
    async def asked(other: nio.AsyncClient, **given: str) -> list[bool]:
        line.calls.clear()
        line.script("GET", "/sync", broken())
        syncing = asyncio.create_task(other.sync_forever(30_000, **given))
        while len(line.calls) < 2:
            await asyncio.sleep(0.01)
        syncing.cancel()
        await asyncio.gather(syncing, return_exceptions=True)
        return ["since=" in call.path for call in line.calls[:2]]

    async with going_on(bot) as other:
        assert await asked(other, since=bot.next_batch) == [True, False]
    async with going_on(bot, since=bot.next_batch) as other:
        assert await asked(other) == [True, True]


async def test_rooms_are_known_after_a_start_only_with_full_state(bot: nio.AsyncClient, people: People) -> None:
    ada = await people("ada")
    room = await meet(ada, bot, encrypted=False)
    await bot.sync(0)
    async with going_on(bot) as other:
        await other.sync(0, since=bot.next_batch)
        assert room not in other.rooms
        with pytest.raises(nio.LocalProtocolError, match="No such room"):
            await other.room_send(room, "m.room.message", TEXT)
    here, leads_to = bot.next_batch, ""
    async with asyncio.timeout(PATIENCE):
        while leads_to != here:  # what the joining and the keys still set going moves the homeserver on by itself
            here = leads_to or here
            async with going_on(bot, since=here) as other:
                leads_to = (await other.sync(0, full_state=True)).next_batch
                known = room in other.rooms
    assert not known, "an answer that leads to where one is already is thrown away"
    async with going_on(bot) as other:
        await other.sync(0, since=here, full_state=True)
        assert room in other.rooms
        await send(other, room, "t1")
    assert (await ada.hears()).body == "x"


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_a_gap_is_filled_by_reading_backwards(bot: nio.AsyncClient, people: People, encrypted: bool) -> None:
    ada = await people("ada")
    room = await meet(ada, bot, encrypted)
    await bot.sync(0)
    since = bot.next_batch
    said = [await ada.say(room, str(number)) for number in range(12)]
    response = await bot.sync(0, sync_filter={"room": {"timeline": {"limit": 3}}})
    part = response.rooms.join[room].timeline
    assert part.limited
    events, start = list(reversed(part.events)), part.prev_batch
    for _ in range(10):
        older = await bot.room_messages(room, start=start, end=since, limit=4)
        events += older.chunk
        if not older.chunk or older.end is None:
            break
        start = older.end
    assert [event.event_id for event in reversed(events)] == said
    assert [event.body for event in reversed(events)] == [str(number) for number in range(12)]


async def test_a_room_just_joined_is_limited_and_shows_what_was_before(bot: nio.AsyncClient, people: People) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(bot.user_id)
    early = await ada.say(room, "before you came")
    response = await bot.sync(0)
    (invited,) = [
        event for event in response.rooms.invite[room].invite_state if getattr(event, "state_key", "") == bot.user_id
    ]
    assert (invited.sender, invited.content["is_direct"]) == (ada.user_id, True)
    await bot.join(room)
    info = (await bot.sync(0)).rooms.join[room].timeline
    assert info.limited
    assert early in [event.event_id for event in info.events]


async def test_a_room_that_was_left_stays_known(bot: nio.AsyncClient, people: People) -> None:
    ada = await people("ada")
    room = await meet(ada, bot, encrypted=False, group=True)
    await ada.kick(room, bot.user_id)
    response = await bot.sync(0)
    assert room in response.rooms.leave
    assert room in bot.rooms
    given = await bot.room_send(room, "m.room.message", TEXT)
    assert (given.status_code, given.transport_response.status) == ("M_FORBIDDEN", 403)


async def test_what_is_malformed_comes_as_such_but_relations_are_not_looked_at(
    bot: nio.AsyncClient, people: People
) -> None:
    ada = await people("ada")
    room = await meet(ada, bot, encrypted=True)
    for content in ({}, {"body": 5, "msgtype": "m.text"}, TEXT | {"m.relates_to": "nonsense"}):
        await ada.send_raw(room, "m.room.message", content)
    await ada.send_raw(room, "m.poll.start", {"answers": []})
    kinds = [type(event).__name__ for event in await timeline(bot, room)]
    assert kinds[-4:] == ["BadEvent", "BadEvent", "RoomMessageText", "UnknownEvent"]


async def test_a_reaction_taken_back_is_a_redaction_that_names_it(bot: nio.AsyncClient, people: People) -> None:
    ada = await people("ada")
    room = await meet(ada, bot, encrypted=True)
    said = await send(bot, room, "t1")
    reaction = await ada.react(room, said, "1\ufe0f\u20e3")
    (first,) = await timeline(bot, room, lambda event: isinstance(event, nio.ReactionEvent))
    assert (first.reacts_to, first.key, first.decrypted) == (said, "1\ufe0f\u20e3", False)
    await ada.redact(room, reaction)
    (taken,) = await timeline(bot, room, lambda event: isinstance(event, nio.RedactionEvent))
    assert taken.redacts == reaction


async def test_the_same_transaction_is_the_same_event_over_a_restart(
    homeserver: Homeserver, bot: nio.AsyncClient, line: Faults, people: People
) -> None:
    ada = await people("ada")
    plain, encrypted = [await meet(ada, bot, encrypted) for encrypted in (False, True)]
    line.script("PUT", "/send/", lost(), times=2)
    with pytest.raises(aiohttp.ServerDisconnectedError):
        await send(bot, plain, "t1")
    line.script("PUT", "/send/", cut())
    with pytest.raises(aiohttp.ClientPayloadError):
        await send(bot, plain, "t1")
    once = await send(bot, plain, "t1")
    sealed = await send(bot, encrypted, "t1")
    redacted = (await bot.room_redact(plain, once, tx_id="r1")).event_id
    homeserver.kill()
    await homeserver.start()
    bot.invalidate_outbound_session(encrypted)  # as after a restart of the bot: encrypted anew, with another key
    assert await send(bot, plain, "t1", "another text") == once
    assert await send(bot, encrypted, "t1") == sealed
    assert (await bot.room_redact(plain, once, tx_id="r1")).event_id == redacted
    about = {"m.relates_to": {"rel_type": "m.annotation", "event_id": once, "key": "1"}}
    assert (await bot.room_send(plain, "m.reaction", about, "t1")).event_id == once, "whatever the type"
    await ada.sees(lambda heard: heard.kind == "m.room.redaction")
    assert [heard.event_id for heard in ada.seen if heard.is_message] == [once, sealed]


async def test_limits(bot: nio.AsyncClient, line: Faults, people: People) -> None:
    ada = await people("ada")
    plain, encrypted = [await meet(ada, bot, encrypted) for encrypted in (False, True)]
    await send(bot, plain, "fits", "x" * 64_000)
    await send(bot, encrypted, "fits", "x" * 47_500)
    for room, length in ((plain, 66_000), (encrypted, 49_500)):
        given = await bot.room_send(room, "m.room.message", TEXT | {"body": "x" * length})
        assert (given.status_code, given.transport_response.status) == ("M_TOO_LARGE", 413)
    for wait in (1234, None):
        line.script("PUT", "/send/", too_fast(wait))
        given = await bot.room_send(plain, "m.room.message", TEXT)
        assert (given.status_code, given.retry_after_ms) == ("M_LIMIT_EXCEEDED", wait)
    about = {"m.relates_to": {"rel_type": "m.annotation", "event_id": await send(bot, plain, "t"), "key": "1"}}
    await bot.room_send(plain, "m.reaction", about, "r1")
    assert (await bot.room_send(plain, "m.reaction", about, "r2")).status_code == "M_DUPLICATE_ANNOTATION"


async def test_an_error_that_is_no_json_is_success_where_the_answer_is_empty(
    bot: nio.AsyncClient, line: Faults, people: People
) -> None:
    ada = await people("ada")
    room = await meet(ada, bot, encrypted=False)
    with line.during("*", "/", gateway()):
        given = [
            await bot.room_leave(room),
            await bot.room_typing(room),
            await bot.room_read_markers(room, "$x", "$x"),
            await bot.to_device(ToDeviceMessage("org.example", ada.user_id, "*", {})),
            await bot.download("mxc://wheels.test/none"),
            await bot.room_send(room, "m.room.message", TEXT),
            await bot.sync(0),
        ]
    wrong = [not isinstance(response, nio.ErrorResponse) for response in given]
    assert wrong == [True, True, True, True, True, False, False]
    assert {response.transport_response.status for response in given} == {502}
