"""What nio keeps on the disk tells nobody without the key who talked where, not even about earlier times."""

import json
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from nio.crypto import InboundGroupSession, OlmAccount, OlmDevice, OutboundGroupSession, OutboundSession
from nio.crypto.key_request import OutgoingKeyRequest
from nio.store import SqliteStore

from tests.channels.matrix.bot import Bot
from tests.channels.matrix.conftest import PASSWORD, People
from tests.channels.matrix.homeserver import Homeserver
from tests.channels.matrix.stage import Rider, Stage, account
from tests.store.ciphers import throw_away_cipher
from triagebot.channels.matrix import nio_internals, store_encryption
from triagebot.channels.matrix.http import HttpClient
from triagebot.channels.matrix.keys import STORE, Keys
from triagebot.channels.matrix.session import FOLDER, SESSION, AccountFolder, Login, reencrypt_session
from triagebot.channels.matrix.store_encryption import TextCipher
from triagebot.errors import StoreError
from triagebot.store import open_store
from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.key_rotation import renew, retire

ME = Login("@wheels:shop.example", "TRIAGEBOT0")
ADA, HER_PHONE, HER_NAME = "@ada:example.org", "ADASPHONE", "phone of Ada"
ROOM, GONE = "!workshop:example.org", "!long-ago:example.org"

SAYING = (ME.user, ME.device, ADA, HER_PHONE, HER_NAME, ROOM)


class Earlier:
    """A folder with a file as it was before anything was closed, and what stands in it."""

    def __init__(self, data: Path, cipher: Cipher) -> None:
        self.data, self.cipher = data, cipher
        self.folder = AccountFolder(data, cipher)
        self.path = self.folder.private(STORE)
        store = SqliteStore(
            ME.user, ME.device, str(self.folder.path), cipher.lookup_hash("matrix keys", ME.user, ME.device), STORE
        )
        mine, hers, sent = OlmAccount(), OlmAccount(), OutboundGroupSession()
        keys = {"curve25519": hers.identity_keys["curve25519"], "ed25519": hers.identity_keys["ed25519"]}
        hers.generate_one_time_keys(1)
        (one_time,) = hers.one_time_keys["curve25519"].values()
        talk = OutboundSession(mine, keys["curve25519"], one_time)
        heard = InboundGroupSession(sent.session_key, keys["ed25519"], keys["curve25519"], ROOM)
        heard.forwarding_chain.append("K" * 43)
        store.save_account(mine)
        store.save_session(keys["curve25519"], talk)
        store.save_device_keys({ADA: {HER_PHONE: OlmDevice(ADA, HER_PHONE, keys, display_name=HER_NAME)}})
        store.save_inbound_group_session(heard)
        store.save_encrypted_rooms({ROOM, GONE})
        store.add_outgoing_key_request(OutgoingKeyRequest("wanted", "wanted", ROOM, "m.megolm.v1.aes-sha2"))
        store.delete_encrypted_room(GONE)
        store.database.close()
        self.keys, self.sessions, self.mine = keys, (talk.id, heard.id), mine
        self.saying = (*SAYING, *keys.values(), *self.sessions, "K" * 43)

    def open(self, cipher: Cipher | None = None) -> Keys:
        return Keys(HttpClient("http://127.0.0.1:9"), AccountFolder(self.data, cipher or self.cipher), ME)

    def found(self) -> list[str]:
        return standing_in(self.data, self.saying)

    def is_whole(self, keys: Keys) -> None:
        """Everything is there as it was."""
        olm, store = keys.client.olm, keys.client.store
        talk, heard = self.sessions
        assert olm.account.identity_keys == self.mine.identity_keys
        assert olm.session_store.get(self.keys["curve25519"]).id == talk
        device = keys.client.device_store[ADA][HER_PHONE]
        assert (device.keys, device.display_name, device.deleted) == (self.keys, HER_NAME, False)
        session = olm.inbound_group_store.get(ROOM, self.keys["curve25519"], heard)
        assert (session.id, session.forwarding_chain) == (heard, ["K" * 43])
        assert keys.client.encrypted_rooms == {ROOM}
        assert [(each.room_id, each.session_id) for each in olm.outgoing_key_requests.values()] == [(ROOM, "wanted")]
        assert store.database.execute_sql("PRAGMA foreign_key_check").fetchall() == []


def standing_in(folder: Path, texts: tuple[str, ...]) -> list[str]:
    """Which of them stand in clear in any file of a folder."""
    held = [path.read_bytes() for path in folder.rglob("*") if path.is_file()]
    return [text for text in texts if any(text.encode() in each for each in held)]


@pytest.fixture
def earlier(tmp_path: Path) -> Iterator[Earlier]:
    before = Earlier(tmp_path / "data", throw_away_cipher())
    assert before.found() == list(before.saying), "the search finds what stands there"
    return before


# --- a file from before -----------------------------------------------------------------------------------------------


def test_a_file_from_before_is_taken_over_and_says_nothing_any_more(earlier: Earlier) -> None:
    keys = earlier.open()
    earlier.is_whole(keys)
    assert earlier.found() == [], "while it is open"
    keys.close()
    assert earlier.found() == []
    again = earlier.open()
    earlier.is_whole(again)
    again.close()


def test_neither_what_was_deleted_nor_the_log_of_a_killed_process_says_anything(earlier: Earlier) -> None:
    killed = earlier.data.with_name("killed") / "matrix"
    writing = sqlite3.connect(earlier.path, isolation_level=None)
    writing.execute("PRAGMA secure_delete = off")
    writing.execute("PRAGMA journal_mode = wal")
    number = writing.execute("SELECT id FROM accounts").fetchone()[0]
    for room in (f"!{number}-long-ago:example.org" for number in range(500)):
        writing.execute("INSERT INTO encryptedrooms (room_id, account_id) VALUES (?, ?)", (room, number))
    writing.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    writing.execute("DELETE FROM encryptedrooms WHERE room_id != ?", (ROOM,))
    shutil.copytree(earlier.folder.path, killed)
    writing.close()
    traces = ("-long-ago:example.org", ROOM)
    for file in (killed / STORE, killed / f"{STORE}-wal"):
        assert all(text.encode() in file.read_bytes() for text in traces)
    earlier.data = killed.parent
    keys = earlier.open()
    earlier.is_whole(keys)
    assert standing_in(earlier.data, traces) == []
    keys.close()


@pytest.mark.parametrize("row", [1, 2, 9, 20])
def test_taking_over_that_is_cut_off_has_changed_nothing(
    earlier: Earlier, monkeypatch: pytest.MonkeyPatch, row: int
) -> None:
    encrypt, calls = TextCipher.encrypt, iter(range(1, row))

    def cut_off(self: TextCipher, column: str, text: str) -> str:
        if next(calls, None) is None:
            raise KeyboardInterrupt
        return encrypt(self, column, text)

    with monkeypatch.context() as patch:
        patch.setattr(TextCipher, "encrypt", cut_off)
        with pytest.raises(KeyboardInterrupt):
            earlier.open()
    with sqlite3.connect(earlier.path) as looking:
        assert looking.execute("SELECT user_id, room_id FROM devicekeys, encryptedrooms").fetchall() == [(ADA, ROOM)]
    looking.close()
    keys = earlier.open()
    earlier.is_whole(keys)
    keys.close()
    assert earlier.found() == []


def test_taking_over_that_is_cut_off_before_the_traces_are_wiped_is_finished(
    earlier: Earlier, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_off(*_: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(nio_internals, "start_encrypting", cut_off)
        with pytest.raises(KeyboardInterrupt):
            earlier.open()
    with sqlite3.connect(earlier.path) as looking:
        assert looking.execute("PRAGMA user_version").fetchone() == (store_encryption._TRACES,)
    looking.close()
    keys = earlier.open()
    earlier.is_whole(keys)
    assert keys.client.store.database.execute_sql("PRAGMA user_version").fetchone() == (store_encryption._ENCRYPTED,)
    assert earlier.found() == []
    keys.close()


# --- keys -------------------------------------------------------------------------------------------------------------


def test_with_another_key_a_file_is_refused_and_left_as_it_is(earlier: Earlier) -> None:
    def rows() -> list[Any]:
        with sqlite3.connect(earlier.path) as looking:
            dump = list(looking.iterdump())
        looking.close()
        return dump

    for _ in ("in clear", "closed"):
        before = rows()
        with pytest.raises(StoreError, match="another key"):
            earlier.open(throw_away_cipher())
        assert rows() == before
        keys = earlier.open()
        earlier.is_whole(keys)
        keys.close()


def test_a_new_key_and_an_old_one_taken_away_leave_login_and_keys_as_they_were(tmp_path: Path) -> None:
    data, key_file = tmp_path / "data", tmp_path / "triagebot.key"
    with open_store(data, key_file=key_file) as store:
        earlier = Earlier(data, store.cipher)
        earlier.folder.write(ME)
        earlier.open().close()
    renew(data, key_file, [reencrypt_session])
    assert retire(data, key_file, [reencrypt_session]) == 1
    with open_store(data, key_file=key_file) as store:
        assert AccountFolder(data, store.cipher).read() == ME
        keys = earlier.open(store.cipher)
        earlier.is_whole(keys)
        keys.close()
    assert (data / FOLDER / SESSION).stat().st_mode & 0o777 == 0o600


def test_a_login_of_an_older_version_is_still_good(tmp_path: Path) -> None:
    """It called cross-signing vouching."""
    folder = AccountFolder(tmp_path, throw_away_cipher())
    older = {"user": ME.user, "device": ME.device, "token": "t", "master": "m", "signing": "s", "vouched": True}
    folder.private(SESSION).write_text(folder.cipher.encrypt(json.dumps(older)), encoding="ascii")
    login = Login(ME.user, ME.device, "t", "m", "s", cross_signed=True)
    assert folder.read() == login
    folder.write(login)
    assert folder.read() == login


def test_a_login_that_no_key_opens_is_left_as_it_is(tmp_path: Path) -> None:
    cipher, path = throw_away_cipher(), tmp_path / FOLDER / SESSION
    assert reencrypt_session(tmp_path, cipher) == 0
    path.parent.mkdir()
    for login in (b"of another key", b"", "\N{LATIN SMALL LETTER A WITH DIAERESIS}".encode()):
        path.write_bytes(login)
        assert reencrypt_session(tmp_path, cipher) == 0
        assert path.read_bytes() == login


def test_a_file_of_two_devices_is_closed_for_both(earlier: Earlier) -> None:
    earlier.open().close()
    other = Keys(HttpClient("http://127.0.0.1:9"), earlier.folder, Login(ME.user, "TRIAGEBOT1"))
    with other.atomic():
        other.client.store.save_encrypted_rooms({"!another:example.org"})
    other.close()
    assert standing_in(earlier.data, (*earlier.saying, "TRIAGEBOT1", "!another:example.org")) == []
    keys = earlier.open()
    earlier.is_whole(keys)
    keys.close()


def test_the_same_is_closed_alike_in_one_column_only() -> None:
    mine, other = TextCipher("a" * 64), TextCipher("b" * 64)
    encrypted = mine.encrypt("rooms.room_id", ROOM)
    assert encrypted == mine.encrypt("rooms.room_id", ROOM)
    assert encrypted not in (mine.encrypt("sessions.room_id", ROOM), other.encrypt("rooms.room_id", ROOM))
    for text in (ROOM, "", "Ünsal \ud800", "x" * 10_000):
        assert mine.decrypt("rooms.room_id", mine.encrypt("rooms.room_id", text)) == text
    for one, column, text in (
        (other, "rooms.room_id", encrypted),
        (mine, "sessions.room_id", encrypted),
        (mine, "rooms.room_id", encrypted[:-8]),
        (mine, "rooms.room_id", ROOM),
        (mine, "rooms.room_id", ""),
    ):
        with pytest.raises(DecryptionError):
            one.decrypt(column, text)


# --- those who went ---------------------------------------------------------------------------------------------------


def test_of_people_and_rooms_that_are_gone_only_sessions_are_kept(earlier: Earlier) -> None:
    keys = earlier.open()
    keys.drop_absent({"rooms": {"leave": {ROOM: {}}}})
    heard = earlier.sessions[1]
    assert keys.client.sender_key(ROOM, heard), "what was said before it was left is read first"
    assert ADA not in dict(keys.client.device_store.items())
    keys.drop_absent({})
    assert keys.client.sender_key(ROOM, heard) is None
    keys.close()
    again = earlier.open()
    assert list(again.client.device_store) == list(again.client.olm.inbound_group_store) == []
    assert (again.client.encrypted_rooms, again.client.olm.outgoing_key_requests) == (set(), {})
    assert again.client.olm.session_store.get(earlier.keys["curve25519"]) is not None
    counted = again.client.store.database.execute_sql
    for table in ("devicekeys", "keys", "devicetruststate", "megolminboundsessions", "forwardedchains"):
        assert counted(f"SELECT count(*) FROM {table}").fetchone() == (0,), table
    again.close()


@pytest.mark.asyncio
async def test_a_conversation_leaves_nobodys_name_and_the_person_who_comes_back_is_read(
    bot: Bot, people: People
) -> None:
    data, ada = Path(bot.made["data"]), await people("ada")
    room = await bot.meet(ada, encrypted=True)
    names = (ada.user_id, ada.client.device_id, "ada's phone", room, bot.user, bot.connection.device_id)
    for text in ("24 mm", "or 25"):
        await ada.say(room, text)
        await bot.hears(text)
        await bot.say(room, f"not {text}")
        await ada.sees(lambda heard, text=text: heard.body == f"not {text}")  # type: ignore[misc]
        assert standing_in(data, names) == []
        await bot.restart()
    await bot.connection.leave(room)
    await bot.until(lambda: room in bot.gone)
    other = await bot.meet(ada)  # one more look, at least
    olm = bot.connection._keys.client.olm
    assert room not in olm.inbound_group_store._entries
    back = await bot.meet(ada, encrypted=True)
    await ada.say(back, "24 mm after all")
    await bot.hears("24 mm after all")
    await bot.say(back, "good")
    await ada.sees(lambda heard: heard.body == "good")
    await bot.connection.close()
    assert standing_in(data, (*names, other, back)) == []


@pytest.mark.asyncio
async def test_nothing_in_the_data_folder_says_who_talked_where_and_what(
    homeserver: Homeserver, people: People, tmp_path: Path
) -> None:
    ada, bob = await people("ada"), await people("bob")
    stage = Stage(account(homeserver.url, await homeserver.register("wheels-kept", PASSWORD)), tmp_path / "stage")
    await stage.start()
    try:
        rooms = [await stage.meet(ada, encrypted=True), await stage.meet(bob)]
        riders = [Rider(who, room) for who, room in zip((ada, bob), rooms, strict=True)]
        for rider in riders:
            await rider.next()
            await rider.say("6 sprockets, and my name is Zanzibar")
        clients = (ada.client, bob.client)
        named = [text for client in clients for text in (client.user_id, client.user_id[1:].split(":")[0])]
        told = (*named, *rooms, *(client.device_id for client in clients), "'s phone", "Zanzibar", stage.user, PASSWORD)
        assert standing_in(stage.folder / "data", told) == []
        await stage.restart()
        await riders[0].say("!forget")
        await riders[0].say("yes")
        await stage.until(lambda: ada.user_id not in stage.channel._kept)
        assert standing_in(stage.folder / "data", told) == []
    finally:
        await stage.stop()
    assert standing_in(stage.folder / "data", told) == []
