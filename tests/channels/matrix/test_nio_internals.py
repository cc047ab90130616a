"""What we need of each internal part of nio, and that no other is used. Run this first after an update of nio: the
name of a test that fails says what no longer holds."""

import ast
import sqlite3
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import nio
import pytest
from nio.crypto import OlmAccount
from nio.store import SqliteStore

import triagebot.channels.matrix as room_of_matrix
from tests.channels.matrix.nio_clients import (
    ADA,
    EVE,
    HERS,
    ME,
    MINE,
    ROOM,
    Clients,
    claim_from,
    clients,
    say,
    share,
    sync,
)
from triagebot.channels.matrix.nio_internals import MEGOLM, CryptoClient, EncryptedDatabase, EncryptedStore

__all__ = ["clients"]

#: What of nio the other modules of the room may import.
PUBLIC = {"nio", "nio.exceptions", "nio.crypto.attachments"}


# --- nobody else touches them -----------------------------------------------------------------------------------------


def private_uses(source: str) -> list[str]:
    """What a module uses of nio that is not public: imports, `olm`, and names with an underscore of anything but
    itself."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [each.name for each in node.names if each.name.startswith("nio") and each.name not in PUBLIC]
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("nio") and node.module not in PUBLIC:
            found.append(str(node.module))
        elif isinstance(node, ast.Attribute):
            private = node.attr.startswith("_") and not node.attr.startswith("__")
            own = isinstance(node.value, ast.Name) and node.value.id in ("self", "cls")
            if node.attr == "olm" or (private and not own):
                found.append(ast.unparse(node))
    return found


def test_no_other_module_touches_nios_internals() -> None:
    assert private_uses("from nio.store import x\nimport nio.crypto\na.olm\nself._a._b\nself._a\nnio.Client") == [
        "nio.store",
        "nio.crypto",
        "a.olm",
        "self._a._b",
    ]
    (folder,) = room_of_matrix.__path__
    sources = {path.name: path.read_text(encoding="utf-8") for path in Path(folder).glob("*.py")}
    uses = {name: found for name, source in sources.items() if (found := private_uses(source))}
    assert list(uses) == ["nio_internals.py"]


# --- the store --------------------------------------------------------------------------------------------------------


def test_every_text_column_of_nios_tables_is_encrypted_or_a_date() -> None:
    """A new one would stand in clear: what it says decides whether it may."""
    kinds: dict[str, set[str]] = {}
    for model in SqliteStore.models:
        for field in model._meta.sorted_fields:
            kinds.setdefault(type(field).__name__, set()).add(f"{model.__name__}.{field.name}")
    assert kinds.pop("EncryptedText") >= {
        "Accounts.user_id",
        "DeviceKeys.user_id",
        "EncryptedRooms.room_id",
        "Keys.key",
    }
    assert kinds.pop("DateField") == {"OlmSessions.creation_time", "OlmSessions.last_usage_date"}
    assert kinds.pop("ByteField") == {"Accounts.account", "OlmSessions.session", "MegolmInboundSessions.session"}
    assert kinds.keys() == {"AutoField", "BooleanField", "ForeignKeyField", "IntegerField", "DeviceTrustField"}


def test_the_tables_of_nios_own_files_are_as_ever(tmp_path: Path) -> None:
    for _ in ("made", "read again"):
        store = SqliteStore(*HERS, str(tmp_path), "pickled", "hers.db")
        store.save_account(store.load_account() or OlmAccount())
        store.save_encrypted_rooms({ROOM})
        assert store.load_encrypted_rooms() == {ROOM}
        store.database.close()
    written = (tmp_path / "hers.db").read_bytes()
    assert all(text.encode() in written for text in (*HERS, ROOM))


def test_device_ids_are_found_in_an_encrypted_file_by_the_legacy_way(clients: Clients) -> None:
    """The newer way compares clear texts with encrypted ones, and finds nothing."""
    mine, _ = clients.pair()
    mine.store.ignore_devices([mine.device_store[ADA][HERS[1]]])
    assert mine.store.load_device_keys()[ADA][HERS[1]].trust_state == nio.crypto.TrustState.ignored
    mine.store.delete_encrypted_room(ROOM)
    assert mine.store.load_encrypted_rooms() == set()


def test_create_database_makes_the_file_that_encrypts_with_a_commit_on_the_disk(clients: Clients) -> None:
    """Without it a power cut could lose a key whose message was acknowledged already."""
    client = clients.open(*MINE)
    assert isinstance(client.store, EncryptedStore)
    assert isinstance(client.store.database, EncryptedDatabase)
    pragmas = {name: client.store.database.execute_sql(f"PRAGMA {name}").fetchone()[0] for name in PRAGMAS}
    assert pragmas == PRAGMAS


PRAGMAS = {"foreign_keys": 1, "secure_delete": 1, "journal_mode": "wal", "synchronous": 2}


def test_get_account_binds_rows_to_one_device_of_the_file(clients: Clients) -> None:
    """Without it, dropping a room for one device would drop it for all that share the file."""
    one, two = clients.open(*MINE, file="shared"), clients.open(ME, "TRIAGEBOT1", file="shared")
    for client in (one, two):
        client.store.save_encrypted_rooms({ROOM})
    one.store.drop_rooms([ROOM])
    assert one.store.load_encrypted_rooms() == set()
    assert two.store.load_encrypted_rooms() == {ROOM}


def test_what_is_done_in_one_transaction_is_on_the_disk_whole_or_not_at_all(clients: Clients) -> None:
    """nio saves an Olm session and the key that came through it one after the other."""
    client = clients.open(*MINE)

    def cut_off() -> None:
        with client.atomic():
            client.store.save_encrypted_rooms({"!another:example.org"})
            raise KeyError

    with pytest.raises(KeyError):
        cut_off()
    assert clients.reopen(client).encrypted_rooms == {ROOM}


def test_drop_keeps_only_the_sessions_between_devices(clients: Clients) -> None:
    """In memory, too: `_entries` of both stores, `tracked_users` and `users_for_key_query` have no public way out."""
    mine, hers = clients.pair()
    share(mine, hers)
    assert mine.sender_key(ROOM, mine.olm.outbound_group_sessions[ROOM].id)
    session = mine.olm.session_store.get(hers.olm.account.identity_keys["curve25519"]).id
    mine.rooms.clear()
    assert (mine.absent_rooms(), mine.absent_people()) == ({ROOM}, {ADA})
    mine.drop([ROOM], [ADA])
    for client in (mine, clients.reopen(mine)):
        olm = client.olm
        assert (list(olm.inbound_group_store), list(client.device_store), olm.tracked_users & {ADA}) == ([], [], set())
        assert olm.session_store.get(hers.olm.account.identity_keys["curve25519"]).id == session


# --- the device's own keys --------------------------------------------------------------------------------------------


def test_keys_are_saved_before_they_are_published_and_the_same_go_out_again(clients: Clients) -> None:
    """nio's `share_keys` saves them after the answer; killed between, the server refuses all that follow."""
    client = clients.open(*MINE)
    assert client.needs_upload()
    upload = client.keys_to_upload(fallback=False)
    assert upload["device_keys"]["keys"][f"ed25519:{MINE[1]}"] == client.identity
    assert len(upload["one_time_keys"]) == client.olm.account.max_one_time_keys
    for signed in (*upload["one_time_keys"].values(), *upload["fallback_keys"].values(), upload["device_keys"]):
        assert client.olm.verify_json(dict(signed), client.identity, *MINE)
    assert [key["fallback"] for key in upload["fallback_keys"].values()] == [True]
    after = clients.reopen(client)
    assert after.keys_to_upload(fallback=False) == upload
    after.give_up_one_time_keys()
    others = after.keys_to_upload(fallback=False)
    assert not others["one_time_keys"].keys() & upload["one_time_keys"].keys()
    assert len(others["fallback_keys"]) == 1


def test_keys_are_published_when_half_of_them_are_left(clients: Clients) -> None:
    """`uploaded_key_count` is what nio knows of the server's; no keys at all would be no count for it."""
    client = clients.open(*MINE)
    most = client.olm.account.max_one_time_keys
    client.receive_response(nio.KeysUploadResponse(0, most))
    for left, needed in ((most, False), (most // 2 + 1, False), (most // 2, True), (0, True)):
        client.set_one_time_keys_left(left)
        assert client.needs_upload() is needed
    client.set_one_time_keys_left(most)
    assert set(client.keys_to_upload(fallback=False)) == {"one_time_keys"}
    client.set_unpublished()
    assert clients.reopen(client).needs_upload(), "`account.shared` is kept in the file"


# --- devices of others ------------------------------------------------------------------------------------------------


def test_an_olm_session_is_missing_until_a_key_is_claimed(clients: Clients) -> None:
    mine, hers = clients.pair(claim=False)
    assert mine.without_session([ADA, EVE]) == {ADA: [HERS[1]]}
    claim_from(mine, hers, hers.keys_to_upload(fallback=False))
    assert mine.without_session([ADA, EVE]) == {}


def test_only_a_session_of_more_than_an_hour_is_renewed(clients: Clients) -> None:
    """Otherwise somebody who sends nonsense could have us claim key after key."""
    mine, hers = clients.pair()
    sender_key = hers.olm.account.identity_keys["curve25519"]
    mine.renew_session(ADA, sender_key)
    assert not mine.should_claim_keys
    mine.olm.session_store.get(sender_key).creation_time = datetime.now() - timedelta(hours=2)
    mine.renew_session(ADA, sender_key)
    assert dict(mine.get_users_for_key_claiming()) == {ADA: [HERS[1]]}


@pytest.mark.parametrize("content", [{}, {"type": 0, "body": "AwgB"}], ids=["none", "no message"])
def test_a_message_between_devices_that_nio_cannot_digest_stops_nothing(
    clients: Clients, content: dict[str, Any], caplog: pytest.LogCaptureFixture
) -> None:
    """It raises out of nio's handling of a sync, and would come again with each."""
    mine, hers = clients.pair()
    body = {mine.olm.account.identity_keys["curve25519"]: content or None}
    bad = (ADA, {"algorithm": "m.olm.v1.curve25519-aes-sha2", "sender_key": "x", "ciphertext": body})
    nio_own = nio.Client._handle_decrypt_to_device
    event = nio.ToDeviceEvent.parse_event({"type": "m.room.encrypted", "sender": ADA, "content": bad[1]})
    if content:
        with pytest.raises(Exception, match=r".") as raised:
            nio_own(mine, event)
        assert mine._handle_decrypt_to_device(event) is None
        assert type(raised.value).__name__ in caplog.text
    sync(mine, bad)
    share(hers_with_session(hers, mine), mine)
    assert mine.sender_key(ROOM, hers.olm.outbound_group_sessions[ROOM].id)


def hers_with_session(hers: CryptoClient, mine: CryptoClient) -> CryptoClient:
    claim_from(hers, mine, mine.keys_to_upload(fallback=False))
    return hers


def test_a_full_disk_is_told_though_all_else_is_passed_over(clients: Clients, monkeypatch: pytest.MonkeyPatch) -> None:
    mine, hers = clients.pair()

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(EncryptedStore, "save_inbound_group_session", full)
    with pytest.raises(sqlite3.OperationalError):
        share(hers_with_session(hers, mine), mine)


@pytest.mark.parametrize(("asked", "maker", "taken"), [(True, True, True), (False, True, False), (True, False, False)])
def test_a_forwarded_key_is_taken_when_we_asked_and_its_maker_sends_it(
    clients: Clients, asked: bool, maker: bool, taken: bool
) -> None:
    """nio would take it from the account's own other devices alone, of which the bot has none."""
    mine, hers = clients.pair()
    hers_with_session(hers, mine).olm.create_outbound_group_session(ROOM)
    sender_key = hers.olm.account.identity_keys["curve25519"]
    made = hers.olm.inbound_group_store.get(ROOM, sender_key, hers.olm.outbound_group_sessions[ROOM].id)
    if asked:
        wanted = nio.crypto.OutgoingKeyRequest(made.id, made.id, ROOM, MEGOLM)
        mine.olm.outgoing_key_requests[made.id] = wanted
    content = {
        "algorithm": MEGOLM,
        "room_id": ROOM,
        "session_id": made.id,
        "session_key": made.export_session(made.first_known_index),
        "sender_key": sender_key if maker else "K" * 43,
        "sender_claimed_ed25519_key": hers.identity,
        "forwarding_curve25519_key_chain": [],
    }
    (device,) = hers.device_store.active_user_devices(ME)
    session = hers.olm.session_store.get(device.curve25519)
    sync(mine, (ADA, hers.olm._olm_encrypt(session, device, "m.forwarded_room_key", content)))
    assert (mine.sender_key(ROOM, made.id) == sender_key) is taken
    assert (made.id in mine.outgoing_key_requests) is (asked and not taken)


# --- room keys --------------------------------------------------------------------------------------------------------


def test_a_room_key_is_shared_step_by_step_and_goes_on_to_devices_that_lack_it(clients: Clients) -> None:
    """nio calls a key shared however the sending of it ended."""
    mine, hers = clients.pair(claim=False)
    assert mine.needs_sharing(ROOM)
    share(mine, hers)  # nobody has a session yet
    key = mine.olm.outbound_group_sessions[ROOM].id
    assert (mine.needs_sharing(ROOM), mine.with_room_key(ROOM)) == (False, set())
    assert mine.without_room_key(ROOM, (ME, ADA)) == {HERS}
    claim_from(mine, hers, hers.keys_to_upload(fallback=False))
    ((devices, _),) = mine.share_room_key(ROOM, (ME, ADA))
    assert (devices, mine.needs_sharing(ROOM)) == ({HERS}, True), "it is not shared before that is said"
    share(mine, hers)
    assert (mine.with_room_key(ROOM), mine.without_room_key(ROOM, (ME, ADA))) == ({HERS}, set())
    assert hers.sender_key(ROOM, key) == mine.olm.account.identity_keys["curve25519"]
    event = nio.MegolmEvent.from_dict(say(mine))
    event.room_id = ROOM
    assert hers.decrypt_event(event).body == "24 mm"
    mine.olm.outbound_group_sessions[ROOM].max_messages = 1
    assert mine.needs_sharing(ROOM), "it has expired"
    share(mine, hers)
    assert mine.olm.outbound_group_sessions[ROOM].id != key


def test_a_half_shared_key_is_forgotten_which_nio_would_keep(clients: Clients) -> None:
    """Somebody may have it who has left the room since."""
    mine, _ = clients.pair()
    mine.share_room_key(ROOM, (ME, ADA))
    key = mine.olm.outbound_group_sessions[ROOM].id
    mine.invalidate_outbound_session(ROOM)
    assert mine.olm.outbound_group_sessions[ROOM].id == key
    mine.forget_room_key(ROOM)
    mine.receive_response(nio.ShareGroupSessionResponse(ROOM, {HERS}))
    mine.room_key_shared(ROOM)
    assert ROOM not in mine.olm.outbound_group_sessions


def test_who_made_a_room_key_is_none_for_one_that_is_not_here(clients: Clients) -> None:
    client = clients.open(*MINE)
    assert client.sender_key(ROOM, "nothing") is None
