"""Two devices that speak to each other through nio's machine, without a server."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nio
import pytest

from triagebot.channels.matrix.keys import _reduced
from triagebot.channels.matrix.nio_internals import CryptoClient
from triagebot.channels.matrix.store_encryption import TextCipher

ME, ADA, EVE, ROOM = "@wheels:shop.example", "@ada:example.org", "@eve:example.org", "!workshop:example.org"
MINE, HERS = (ME, "TRIAGEBOT0"), (ADA, "ADASPHONE")
CIPHER = TextCipher("a" * 64)


class Clients:
    """Devices that exchange by hand what a server would carry between them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.made: list[CryptoClient] = []

    def open(self, user: str, device: str, file: str = "") -> CryptoClient:
        folder = self.folder / (file or device)
        folder.mkdir(exist_ok=True)
        client = CryptoClient(user, device, folder / "keys.db", f"pickled {device}", CIPHER)
        self.made.append(client)
        sync(client)
        return client

    def reopen(self, client: CryptoClient) -> CryptoClient:
        client.close()
        return self.open(client.user_id, client.device_id, Path(client.store_path).name)

    def pair(self, claim: bool = True) -> tuple[CryptoClient, CryptoClient]:
        """Mine and Ada's, which know each other's devices; with `claim`, mine has an Olm session with hers."""
        mine, hers = self.open(*MINE), self.open(*HERS)
        for one, other in ((mine, hers), (hers, mine)):
            upload = other.keys_to_upload(fallback=False)
            know(one, other, upload)
            if claim and one is mine:
                claim_from(one, other, upload)
        return mine, hers


def know(one: CryptoClient, other: CryptoClient, upload: dict[str, Any]) -> None:
    devices = {"device_keys": {other.user_id: {other.device_id: upload["device_keys"]}}, "failures": {}}
    one.receive_response(nio.KeysQueryResponse.from_dict(devices))
    assert (other.user_id, other.device_id) in one.devices_of([other.user_id]), "the signature holds"


def claim_from(one: CryptoClient, other: CryptoClient, upload: dict[str, Any]) -> None:
    name, key = next(iter(upload["one_time_keys"].items()))
    keys = {"one_time_keys": {other.user_id: {other.device_id: {name: key}}}, "failures": {}}
    one.receive_response(nio.KeysClaimResponse.from_dict(keys))


_BATCHES = iter(range(10**9))


def sync(client: CryptoClient, *to_device: tuple[str, Any], members: tuple[str, ...] = (ME, ADA)) -> None:
    """A sync with an encrypted room, and with encrypted messages of senders to the device."""
    frame = {"event_id": "$e", "origin_server_ts": 1}
    events = [
        {"type": "m.room.member", "state_key": who, "sender": who, "content": {"membership": "join"}, **frame}
        for who in members
    ]
    events.append({"type": "m.room.encryption", "state_key": "", "sender": ME, "content": {}, **frame})
    given = {
        "next_batch": str(next(_BATCHES)),
        "rooms": {"join": {ROOM: _reduced({"state": {"events": events}})}},
        "to_device": {"events": [{"type": "m.room.encrypted", "sender": who, "content": c} for who, c in to_device]},
        "device_lists": {},
    }
    client.receive_response(nio.SyncResponse.from_dict(given))


def share(one: CryptoClient, other: CryptoClient) -> None:
    """The key of one's next message goes to the other, as `key_sharing` does it."""
    for devices, messages in one.share_room_key(ROOM, (ME, ADA)):
        one.receive_response(nio.ShareGroupSessionResponse(ROOM, devices))
        for each in messages["messages"].get(other.user_id, {}).values():
            sync(other, (one.user_id, each))
    one.room_key_shared(ROOM)


def say(one: CryptoClient) -> dict[str, Any]:
    one.rooms[ROOM].members_synced = True
    kind, content = one.encrypt(ROOM, "m.room.message", {"msgtype": "m.text", "body": "24 mm"})
    return {
        "type": kind, "content": content, "event_id": "$said", "sender": one.user_id, "origin_server_ts": 1
    }  # fmt: skip


@pytest.fixture
def clients(tmp_path: Path) -> Iterator[Clients]:
    clients = Clients(tmp_path)
    yield clients
    for client in clients.made:
        client.close()
