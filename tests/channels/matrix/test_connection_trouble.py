"""The homeserver is away, slow, broken or has had enough of the bot: the right error, and nothing lost or repeated."""

import asyncio
import logging
import sqlite3
from pathlib import Path

import pytest

from tests.channels.matrix.bot import Bot, Bots
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.faults import Faults, broken, cut, dropped, gateway, slow, too_fast, unknown_token
from tests.channels.matrix.homeserver import Homeserver
from tests.store.ciphers import throw_away_cipher
from triagebot.channels.matrix import http, sync
from triagebot.channels.matrix.connection import Connection, MatrixAway, MatrixRefused
from triagebot.errors import StoreError
from triagebot.messages import RetryAfter, Transient

pytestmark = pytest.mark.asyncio

AWAY = (broken(), broken(503), gateway(), dropped(), cut())


async def test_whatever_the_server_answers_a_sync_says_so_and_nothing_is_lost(
    bot: Bot, people: People, line: Faults
) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await ada.say(room, "24 mm")
    for fault in AWAY:
        line.script("GET", "/sync", fault, times=2)
        with pytest.raises(MatrixAway):
            await bot.sync()
        line.fair()
    line.script("GET", "/sync", too_fast(2500))
    with pytest.raises(MatrixAway) as raised:
        await bot.sync()
    assert raised.value.seconds == 2.5
    line.script("GET", "/sync", too_fast(None))
    with pytest.raises(MatrixAway) as raised:
        await bot.sync()
    assert raised.value.seconds == http.PAUSE
    await bot.hears("24 mm")
    assert len(bot.seen) == 1
    assert bot.connection._http.token, "no error makes it forget the login"


async def test_whatever_the_server_answers_to_a_message_the_delivery_is_told(
    bot: Bot, people: People, line: Faults
) -> None:
    ada = await people("ada")
    room = await bot.meet(ada)
    for fault in AWAY:
        line.script("PUT", "/send/", fault, times=2)
        with pytest.raises(Transient):
            await bot.say(room, "once", tx="tb-1")
        line.fair()
    line.script("PUT", "/send/", too_fast(2500))
    with pytest.raises(RetryAfter) as raised:
        await bot.say(room, "once", tx="tb-1")
    assert raised.value.seconds == 2.5
    line.script("PUT", "/send/", unknown_token())
    with pytest.raises(Transient):
        await bot.say(room, "once", tx="tb-1")
    await bot.say(room, "once", tx="tb-1")
    await bot.say(room, "the end")
    await ada.sees(lambda heard: heard.body == "the end")
    assert [heard.body for heard in ada.seen if heard.is_message] == ["once", "the end"]
    with line.during("*", "/(typing|receipt|leave)", gateway()):
        await bot.connection.typing(room, True)
        await bot.connection.read(room, "$x")
        await bot.connection.leave(room)


async def test_a_server_that_was_stopped_killed_or_frozen(
    homeserver: Homeserver, bots: Bots, people: People, monkeypatch: pytest.MonkeyPatch
) -> None:
    bot, ada = await bots(), await people("ada")
    room = await bot.meet(ada, encrypted=True)
    # However slow this machine is, a frozen server says nothing in that time, nor in any other.
    monkeypatch.setattr(sync, "POLL", 0.2)
    monkeypatch.setattr(sync, "GRACE", 0.5)
    homeserver.pause()
    with pytest.raises(MatrixAway, match=r"no answer within 0\.7 s"):
        await bot.sync()
    homeserver.resume()
    monkeypatch.undo()
    await ada.say(room, "before it was killed")
    homeserver.kill()
    with pytest.raises(MatrixAway):
        await bot.sync()
    with pytest.raises(Transient):
        await bot.say(room, "to nobody", tx="tb-1")
    with pytest.raises(MatrixAway):
        await bot.restart()
    await homeserver.start()
    await bot.start()
    await ada.say(room, "and after")
    await bot.hears("and after")
    assert [seen.text for seen in bot.seen] == ["before it was killed", "and after"]
    await bot.say(room, "here again", tx="tb-1")
    await ada.sees(lambda heard: heard.body == "here again")


async def test_a_token_that_was_revoked(bot: Bot, people: People, line: Faults) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await bot.connection._http.request("POST", http.path_of("logout"), {})
    with pytest.raises(Transient):
        await bot.say(room, "not now", tx="tb-1")
    with pytest.raises(MatrixRefused, match=r"logged .* out"):
        await bot.sync()
    device = bot.connection.device_id
    await bot.restart()  # with the password, as the same device, whose keys the server had forgotten
    assert (bot.connection.device_id, bot.connection.cross_signed) == (device, True)
    await bot.say(room, "here again", tx="tb-1")
    await ada.sees(lambda heard: heard.body == "here again")
    tablet = await people("tablet", user_id=ada.user_id)  # the phone's client does not believe that a device came back
    await tablet.say(room, "good to hear")
    await bot.hears("good to hear")


async def test_a_persons_device_that_was_logged_out_and_is_back_can_read(bot: Bot, people: People) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await bot.say(room, "for the phone")
    await ada.hears()
    device = next(iter(bot.connection._keys.client.device_store.active_user_devices(ada.user_id)))
    device.deleted = True  # as after a sync in which the phone was logged out
    bot.connection._keys.client.store.save_device_keys({ada.user_id: {device.id: device}})
    await bot.restart()
    await bot.say(room, "still for the phone")
    await ada.sees(lambda heard: heard.body == "still for the phone")


async def test_a_soft_logout_only_wants_the_password_again(bots: Bots, people: People, line: Faults) -> None:
    bot, ada = await bots(), await people("ada")
    room = await bot.meet(ada, encrypted=True)
    token, device = bot.connection._http.token, bot.connection.device_id
    await ada.say(room, "24 mm")
    line.script("GET", "/sync", unknown_token(soft_logout=True))
    await bot.hears("24 mm")
    assert bot.connection._http.token != token
    assert bot.connection.device_id == device
    await bot.say(room, "thank you")
    await ada.sees(lambda heard: heard.body == "thank you")
    line.script("GET", "/sync", unknown_token(soft_logout=True))
    line.script("POST", "/login", broken())
    with pytest.raises(MatrixAway):
        await bot.sync()
    await bot.restart()
    line.script("GET", "/sync", unknown_token(soft_logout=True), times=2)
    with pytest.raises(MatrixRefused):
        await bot.sync()


async def test_how_a_bot_logs_in(bots: Bots, people: People, tmp_path: Path) -> None:
    bot = await bots()
    server, user, cipher = bot.made["server"], bot.user, bot.made["cipher"]
    with pytest.raises(MatrixRefused, match="does not accept this password"):
        await bots(password="wrong")
    with pytest.raises(MatrixRefused, match="does not accept the access token"):
        await bots(token="wrong")
    with pytest.raises(MatrixRefused, match="give its password"):
        await bots(password="")
    ada = await people("ada")
    token = ada.client.access_token
    with pytest.raises(MatrixRefused, match="is that of @ada"):
        await bots(token=token)
    with pytest.raises(MatrixRefused, match="holds the login of @bot"):
        await bot.restart(user="@other:wheels.test")
    await bot.restart(user=user.removeprefix("@").partition(":")[0], password="")  # what is kept is enough
    assert (bot.user, bot.connection.cross_signed) == (user, True)
    other = Connection(server, ada.user_id, tmp_path / "ada", cipher, token=token)
    with pytest.raises(MatrixRefused, match="by other keys"):  # that device has a client already
        await other.open()
    await other.close()
    nowhere = Connection("http://127.0.0.1:9", user, tmp_path / "nowhere", cipher, password=PASSWORD)
    with pytest.raises(MatrixAway):
        await nowhere.open()
    await nowhere.close()


async def test_an_access_token_is_enough(bots: Bots, people: People, homeserver: Homeserver) -> None:
    first, ada = await bots(), await people("ada")
    given = await first.connection._http.request(
        "POST",
        http.path_of("login"),
        {"type": "m.login.password", "identifier": {"type": "m.id.user", "user": first.user}, "password": PASSWORD},
    )
    data = Path(first.made["data"]).with_name("by-token")
    bot = Bot(homeserver.url, first.user, data, throw_away_cipher(), token=given["access_token"])
    await bot.start()
    assert bot.connection.device_id == given["device_id"]
    assert not bot.connection.cross_signed, "without the password the keys of somebody else stay"
    room = await bot.meet(ada, encrypted=True)
    await bot.say(room, "hello")
    await ada.sees(lambda heard: heard.body == "hello")
    await bot.restart()
    await ada.say(room, "24 mm")
    await bot.hears("24 mm")
    await bot.connection.close()


async def test_folders_and_files_must_be_private_and_ours(bot: Bot) -> None:
    folder = Path(bot.made["data"]) / "matrix"
    await bot.connection.close()
    for path in (folder, folder / "session", folder / "keys.db"):
        mode = path.stat().st_mode
        path.chmod(mode | 0o004)
        with pytest.raises(StoreError, match="can be read by others"):
            await bot.restart()
        path.chmod(mode)
    with pytest.raises(StoreError, match="the present key"):
        await bot.restart(cipher=throw_away_cipher())
    (folder / "session").unlink()
    await bot.restart()  # a new device: the person who wrote to the old one must write again
    assert bot.connection.cross_signed


async def test_a_full_disk_leaves_no_key_half_taken_in(
    bot: Bot, people: People, monkeypatch: pytest.MonkeyPatch
) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    await ada.say(room, "24 mm")
    store = type(bot.connection._keys.client.store)

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(store, "save_inbound_group_session", full)
        with pytest.raises(StoreError):
            await bot.sync()
    await bot.hears("24 mm")
    await bot.say(room, "thank you")
    await ada.sees(lambda heard: heard.body == "thank you")


async def test_nothing_that_is_logged_holds_a_token_or_a_text(
    bot: Bot, people: People, line: Faults, caplog: pytest.LogCaptureFixture
) -> None:
    ada = await people("ada")
    with caplog.at_level(logging.DEBUG):
        room = await bot.meet(ada, encrypted=True)
        said, kept = await ada.say_unreadably(room, "a secret", bot.user)
        undecryptable = await bot.sees(lambda seen: seen.id == said)
        line.script("*", "/", broken(), times=2)
        await bot.connection.ask_for_key(undecryptable)
        line.fair()
        await ada.hand_over(kept)
        await bot.hears("a secret")
        await bot.say(room, "an answer")
        await bot.connection.close()
    told = caplog.text
    for secret in ("a secret", "an answer", bot.connection._http.token, PASSWORD):
        assert secret not in told


async def test_a_slow_server_is_waited_for(bot: Bot, people: People, line: Faults) -> None:
    ada = await people("ada")
    room = await bot.meet(ada, encrypted=True)
    with line.during("*", "/", slow(before=0.1, after=0.1)):
        await asyncio.gather(ada.say(room, "slowly"), bot.say(room, "slowly, too"))
        await bot.hears("slowly")
    await ada.sees(lambda heard: heard.body == "slowly, too")
