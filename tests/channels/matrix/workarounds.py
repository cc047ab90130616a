"""Ways round what a bare client of nio does wrong on a bad line (`triagebot/channels/matrix/NOTES.md`), for the people
of the tests and for the tests of nio's own ways. Nothing of triagebot is used here."""

import base64
import json
from typing import Any
from uuid import uuid4

import nio
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

JSON = {"Content-Type": "application/json"}


async def ask(client: nio.AsyncClient, method: str, path: str, data: str | None = None) -> tuple[int, dict[str, Any]]:
    """Status and answer, without nio's reading of it; no JSON is an empty answer."""
    headers = JSON | {"Authorization": f"Bearer {client.access_token}"}
    answer = await client.send(method, path.removesuffix("?access_token="), data, headers)
    try:
        return answer.status, await answer.json(content_type=None)
    except json.JSONDecodeError:
        return answer.status, {}


async def share_carefully(client: nio.AsyncClient, room_id: str) -> bool:
    """Everybody in the room has the key that the next `room_send` will use, but for devices without one-time keys.

    False if any step failed: nothing was sent then, and what was done is not done again.
    """
    room, olm = client.rooms[room_id], client.olm
    if not room.members_synced and not isinstance(await client.joined_members(room_id), nio.JoinedMembersResponse):
        return False
    if client.should_query_keys and not isinstance(await client.keys_query(), nio.KeysQueryResponse):
        return False
    if not olm.should_share_group_session(room_id):
        return True
    if missing := olm.get_missing_sessions(list(room.users)):
        status, given = await ask(client, *nio.Api.keys_claim("", missing))
        if status != 200 or "one_time_keys" not in given:
            return False
        await client.receive_response(nio.KeysClaimResponse.from_dict(given))
    everybody = list(room.users)
    for devices, messages in olm.share_group_session_parallel(room_id, everybody, ignore_unverified_devices=True):
        status, _ = await ask(client, *nio.Api.to_device("", "m.room.encrypted", messages, uuid4()))
        if status != 200:
            return False
        olm.outbound_group_sessions[room_id].users_shared_with |= devices
    olm.outbound_group_sessions[room_id].shared = True
    return True


async def publish_keys(client: nio.AsyncClient) -> bool:
    """Device keys and one-time keys, saved before they are sent, so that a kill between leaves nothing to regret."""
    keys = client.olm.share_keys()
    client.olm.save_account()
    status, given = await ask(client, *nio.Api.keys_upload("", keys))
    if status == 400 and "already exists" in given.get("error", ""):  # keys that an earlier kill has lost
        client.olm.mark_keys_as_published()
        client.olm.save_account()
        status, given = await ask(client, *nio.Api.keys_upload("", client.olm.share_keys()))
    if status != 200:
        return False
    await client.receive_response(nio.KeysUploadResponse.from_dict(given))
    return True


async def log_in_again(client: nio.AsyncClient, password: str) -> bool:
    """On the device that the client had before, whose keys the server has forgotten."""
    if not isinstance(await client.login(password), nio.LoginResponse):
        return False
    client.olm.account.shared = False
    client.olm.save_account()
    return await publish_keys(client)


async def cross_sign(client: nio.AsyncClient, master: Ed25519PrivateKey, signing: Ed25519PrivateKey) -> int:
    """The device is signed by its user, so that other clients show no warning. The HTTP status, 200 if that worked.

    Both keys must be kept: with others the server asks for the password (401).
    """
    user, device = client.user_id, client.device_id
    keys = {"master": master, "self_signing": signing}
    public = {name: _base64(key.public_key().public_bytes_raw()) for name, key in keys.items()}
    upload = {
        f"{name}_key": {"user_id": user, "usage": [name], "keys": {f"ed25519:{public[name]}": public[name]}}
        for name in keys
    }
    _sign(upload["self_signing_key"], user, public["master"], master)
    status, _ = await ask(client, "POST", "/_matrix/client/v3/keys/device_signing/upload", json.dumps(upload))
    if status != 200:
        return status
    query = json.dumps({"device_keys": {user: [device]}})
    status, given = await ask(client, "POST", "/_matrix/client/v3/keys/query", query)
    if status != 200:
        return status
    mine = given["device_keys"][user][device]
    mine.pop("unsigned", None)
    _sign(mine, user, public["self_signing"], signing)
    signed = json.dumps({user: {device: mine}})
    status, given = await ask(client, "POST", "/_matrix/client/v3/keys/signatures/upload", signed)
    return 400 if given.get("failures") else status


def _base64(raw: bytes) -> str:
    return base64.b64encode(raw).decode().rstrip("=")


def _sign(thing: dict[str, Any], user: str, name: str, key: Ed25519PrivateKey) -> None:
    signed = {each: value for each, value in thing.items() if each not in ("signatures", "unsigned")}
    signature = _base64(key.sign(nio.Api.to_canonical_json(signed).encode()))
    thing.setdefault("signatures", {}).setdefault(user, {})[f"ed25519:{name}"] = signature
