"""What nio does with keys, above all on a bad line: the claims of `triagebot/channels/matrix/NOTES.md`."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from stat import S_IMODE

import aiohttp
import nio
import pytest
import pytest_asyncio
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from tests.channels.matrix.bare import TEXT, bare, going_on, keep_house, meet, shut, timeline
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.faults import Fault, Faults, broken, dropped, gateway, held, lost, too_fast
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.person import Person
from tests.channels.matrix.workarounds import cross_sign, log_in_again, publish_keys, share_carefully

pytestmark = pytest.mark.asyncio

#: Somebody who has met the bot, and the encrypted room where they did.
Met = tuple[Person, str]

NONE_LEFT = Fault("none left", status=200, body={"one_time_keys": {}, "failures": {}})


@pytest_asyncio.fixture
async def newcomer(homeserver: Homeserver, line: Faults, tmp_path: Path) -> AsyncIterator[nio.AsyncClient]:
    """Logged in, no keys published yet."""
    user = await homeserver.register(f"bot-{tmp_path.name[-40:].lower()}-{id(line)}", PASSWORD)
    client = bare(line.url, user, tmp_path / "bot")
    await client.login(PASSWORD)
    await client.sync(0)
    yield client
    await shut(client)


@pytest_asyncio.fixture
async def bot(newcomer: nio.AsyncClient) -> nio.AsyncClient:
    await newcomer.keys_upload()
    return newcomer


@pytest_asyncio.fixture
async def met(bot: nio.AsyncClient, people: People) -> Met:
    ada = await people("ada")
    return ada, await meet(ada, bot, encrypted=True)


async def send(client: nio.AsyncClient, room: str) -> nio.RoomSendResponse | nio.RoomSendError:
    return await client.room_send(room, "m.room.message", TEXT, ignore_unverified_devices=True)


async def read_by(person: Person, sent: nio.RoomSendResponse) -> str:
    """As what the person sees it."""
    return (await person.sees(lambda heard: heard.event_id == sent.event_id)).kind


async def known_devices(person: Person, user: str) -> list[str]:
    given = await person.ask("POST", "keys/query", {"device_keys": {user: []}})
    return list(given["device_keys"].get(user, {}))


@pytest.mark.parametrize("fault", [broken(), too_fast()], ids=lambda fault: fault.name)
async def test_an_error_while_sharing_a_key_logs_out(
    bot: nio.AsyncClient, line: Faults, met: Met, fault: Fault
) -> None:
    _, room = met
    line.script("PUT", "/sendToDevice/", fault)
    assert isinstance(await send(bot, room), nio.RoomSendError)
    assert bot.access_token == ""


@pytest.mark.parametrize("fault", [gateway(), dropped()], ids=lambda fault: fault.name)
async def test_other_failures_while_sharing_send_what_nobody_can_read(
    bot: nio.AsyncClient, line: Faults, met: Met, fault: Fault
) -> None:
    ada, room = met
    line.script("PUT", "/sendToDevice/", fault, times=2)
    assert await read_by(ada, await send(bot, room)) == "undecryptable"
    assert bot.olm.outbound_group_sessions[room].shared
    line.fair()
    assert await read_by(ada, await send(bot, room)) == "undecryptable"


@pytest.mark.parametrize("carefully", [False, True], ids=["as it is", "carefully"])
async def test_a_device_without_a_one_time_key_reads_nothing_until_the_key_changes(
    bot: nio.AsyncClient, line: Faults, met: Met, carefully: bool
) -> None:
    ada, room = met
    line.script("POST", "/keys/claim", NONE_LEFT)
    if carefully:
        assert await share_carefully(bot, room)
    assert [await read_by(ada, await send(bot, room)) for _ in "12"] == ["undecryptable"] * 2
    bot.invalidate_outbound_session(room)
    assert await read_by(ada, await send(bot, room)) == "m.text"


async def test_an_error_at_the_query_for_devices_is_not_noticed(
    bot: nio.AsyncClient, line: Faults, people: People
) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(bot.user_id, encrypted=True)
    await bot.sync(0)
    await bot.join(room)
    await bot.sync(0)
    assert bot.should_query_keys
    line.script("POST", "/keys/query", broken())
    assert await read_by(ada, await send(bot, room)) == "undecryptable"


@pytest.mark.parametrize("fault", [broken(), dropped(), held(asyncio.Event())], ids=lambda fault: fault.name)
async def test_whatever_goes_wrong_while_claiming_blocks_the_room_for_ever(
    bot: nio.AsyncClient, line: Faults, met: Met, fault: Fault
) -> None:
    _, room = met
    script = line.script("POST", "/keys/claim", fault)
    sending = asyncio.create_task(send(bot, room))
    if fault.until is not None:
        while script.left:
            await asyncio.sleep(0.01)
        sending.cancel()
    with pytest.raises((TypeError, aiohttp.ServerDisconnectedError, asyncio.CancelledError)):
        await sending
    assert room in bot.sharing_session
    with pytest.raises(TimeoutError):
        await asyncio.wait_for(send(bot, room), 0.3)


@pytest.mark.parametrize(
    ("method", "path"),
    [("GET", "/joined_members"), ("POST", "/keys/query"), ("POST", "/keys/claim"), ("PUT", "/sendToDevice/")],
    ids=["members", "query", "claim", "share"],
)
async def test_shared_carefully_a_key_is_there_or_nothing_is_sent(
    bot: nio.AsyncClient, line: Faults, people: People, method: str, path: str
) -> None:
    ada = await people("ada")
    room = await ada.create_direct_room(bot.user_id, encrypted=True)
    await bot.sync(0)
    await bot.join(room)
    await bot.sync(0)
    faults = (broken(), gateway(), too_fast())
    for fault in faults:
        line.script(method, path, fault)
        assert not await share_carefully(bot, room)
    assert [call.fault for call in line.calls if call.fault] == [fault.name for fault in faults]
    assert await share_carefully(bot, room)
    assert await read_by(ada, await send(bot, room)) == "m.text"
    assert bot.access_token


async def test_killed_while_publishing_keys_a_client_is_stuck(newcomer: nio.AsyncClient, line: Faults) -> None:
    line.script("POST", "/keys/upload", lost())
    with pytest.raises(aiohttp.ServerDisconnectedError):
        await newcomer.keys_upload()
    async with going_on(newcomer) as after:
        await after.sync(0)
        for _ in "12":
            refused = await after.keys_upload()
            assert "already exists" in refused.message
        assert await publish_keys(after)
        assert not after.should_upload_keys


async def test_keys_that_are_saved_first_are_published_once(newcomer: nio.AsyncClient, line: Faults) -> None:
    line.script("POST", "/keys/upload", lost())
    with pytest.raises(aiohttp.ServerDisconnectedError):
        await publish_keys(newcomer)
    async with going_on(newcomer) as after:
        await after.sync(0)
        line.calls.clear()
        assert await publish_keys(after)
        assert [call.status for call in line.calls] == [200]


async def test_after_a_logout_of_the_device_its_keys_must_be_published_again(
    bot: nio.AsyncClient, met: Met, tmp_path: Path
) -> None:
    ada, room = met
    token = bot.access_token
    await bot.logout()
    bot.access_token = token
    refused = await bot.sync(0)
    assert (refused.status_code, refused.soft_logout) == ("M_UNKNOWN_TOKEN", False)
    other = bare(bot.homeserver, bot.user_id, tmp_path / "bot", bot.device_id)
    try:
        assert await other.login(PASSWORD)
        await other.sync(0, full_state=True)
        await keep_house(other)
        assert await known_devices(ada, bot.user_id) == []
        assert await log_in_again(other, PASSWORD)
        assert await known_devices(ada, bot.user_id) == [bot.device_id]
        assert await share_carefully(other, room)
        assert await read_by(ada, await send(other, room)) == "m.text"
    finally:
        await shut(other)


async def test_a_missing_key_is_asked_for_at_the_senders_device_and_opens_the_message(
    bot: nio.AsyncClient, line: Faults, met: Met
) -> None:
    ada, room = met
    await ada.say(room, "so that there is a session between the devices")
    await bot.sync(0)
    said, kept = await ada.say_unreadably(room, "24 mm", bot.user_id)
    (event,) = await timeline(bot, room)
    assert isinstance(event, nio.MegolmEvent)
    (request,) = bot.outgoing_to_device_messages
    assert (request.type, request.recipient, request.recipient_device) == (
        "m.room_key_request",
        ada.user_id,
        ada.client.device_id,
    )
    await keep_house(bot)
    assert len(line.asked("PUT", "/sendToDevice/m.room_key_request")) == 1
    with pytest.raises(nio.EncryptionError):
        bot.decrypt_event(event)
    await ada.hand_over(kept)
    response = await bot.sync(0)
    (key,) = [each for each in response.to_device_events if isinstance(each, nio.RoomKeyEvent)]
    assert (key.room_id, key.session_id) == (room, event.session_id)
    opened = bot.decrypt_event(event)
    assert (opened.event_id, opened.body) == (said, "24 mm")


async def test_after_a_crash_an_old_position_still_opens_what_comes_again(bot: nio.AsyncClient, met: Met) -> None:
    ada, room = met
    await bot.sync(0)
    since = bot.next_batch
    said = await ada.say(room, "said once")
    for newer in (False, True, False):
        async with going_on(bot, since) as process:
            (event,) = (await process.sync(0, full_state=True)).rooms.join[room].timeline.events[-1:]
            assert (event.event_id, event.body) == (said, "said once")
            if newer:
                await process.sync(0)  # now the server forgets the key that it sent to the device


async def test_the_store_can_be_read_by_all(bot: nio.AsyncClient) -> None:
    (store,) = Path(bot.store_path).glob("*.db")
    assert S_IMODE(store.stat().st_mode) & 0o044


async def test_a_device_is_cross_signed_without_a_password_once(bot: nio.AsyncClient, people: People) -> None:
    ada = await people("ada")
    master, signing, other = (Ed25519PrivateKey.generate() for _ in range(3))
    assert [await cross_sign(bot, master, signing) for _ in "12"] == [200, 200]
    given = await ada.ask("POST", "keys/query", {"device_keys": {bot.user_id: []}})
    (owner,) = given["self_signing_keys"][bot.user_id]["keys"]
    assert owner in given["device_keys"][bot.user_id][bot.device_id]["signatures"][bot.user_id]
    assert await cross_sign(bot, other, signing) == 401
    room = await meet(ada, bot, encrypted=True)
    assert await read_by(ada, await send(bot, room)) == "m.text"
