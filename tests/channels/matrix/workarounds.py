"""What the client library (nio 0.26) and the homeserver (Synapse 1.163) really do, and ways round what would lose
messages. Tests in `test_nio_talk.py` and `test_nio_keys.py` hold what is said here, except for what is marked (read):
that was read in the sources and not tried, and (tried): tried once by hand.

Sync
- `sync_forever` has no pause after an error answer: thousands of requests a second on 500, for ever on
  M_UNKNOWN_TOKEN. With `soft_logout` it forgets the token and raises LocalProtocolError. Connection errors back off
  (read).
- `sync_forever(since=...)` gives the token to its first request only: if that fails, the next asks without any, and
  what happened meanwhile is lost. Setting `client.next_batch` before holds, but then an answer that ends at that very
  token is thrown away, and with it the rooms of a `full_state`. So: `sync(since=, full_state=True)` until it succeeds,
  then plain `sync`, in a loop of one's own.
- With `since` and without `full_state=True` rooms where nothing happened are unknown, and `room_send` to one raises
  LocalProtocolError (whenever a crypto store is open, even for a room that is not encrypted).
- A first sync (`timeout=0`) and one with `full_state` have no time limit at all (read); with a frozen
  server `sync(0)` still hung after 4 s in spite of `request_timeout=1` (tried).
- A room just joined is always `limited`. A real gap is filled by `room_messages(start=prev_batch, end=since)`, newest
  first, decrypted, until `chunk` is empty or `end` is None; it does not go beyond `since`.
- A room that was left stays in `client.rooms`; only `response.rooms.leave` tells.
- Malformed events are `BadEvent` or `UnknownBadEvent` and raise nothing; but `m.relates_to` and `m.new_content` are not
  looked at, and may be of any type.
- To-device messages are gone from the server as soon as a request with a newer `since` arrives; keys are in nio's store
  before callbacks run, so an old `since` after a crash loses none, unless it was killed in the very moment between
  saving the Olm session and the key (read). On a second run they come as undecrypted `OlmEvent` (tried).
- The server gives the same answer to the same first request (no `since`) for two minutes, however old it is by then: a
  nonce in the filter makes each request another one.
- With `store_sync_tokens=True` the position is saved before callbacks run (read).

Sending
- aiohttp repeats GET, PUT and DELETE once by itself when it is hung up on. nio repeats for ever, inside `_send`, on
  connection errors and 429 (5 s where no wait is told) (read), unless `max_timeouts=0` and `max_limit_exceeded=0`.
- A body that breaks off raises aiohttp.ClientPayloadError, which nio never repeats and is no ClientConnectionError.
- 5xx is an error response, at once. A 5xx that is no JSON (a web server's) is *success* for everything that answers
  with an empty object: leave, typing, read markers, to-device. For `download` it is the file.
- `error.status_code` is the errcode; the HTTP status is `response.transport_response.status`.
- A transaction id is remembered by room, device and id over restarts of the server (for 24 h: read), whatever the
  event's type or text: never use one for two events of a room. The same holds for `room_redact(tx_id=)`. To-device:
  half an hour, in memory (read).
- A reaction sent twice under different ids is M_DUPLICATE_ANNOTATION: to be taken as sent.
- Limits: event 65,536 bytes; encrypted, about 48,000 of JSON. More is M_TOO_LARGE.

Keys
- An error on /sendToDevice while a room key is shared: nio misplaces the arguments of its error, takes that for a soft
  logout and forgets the access token (5xx, and 429 with `max_limit_exceeded=0`), or it raises nothing, calls the key
  shared and sends what nobody can read (no JSON, hung up, 429 otherwise).
- An error on /keys/claim raises TypeError; and whatever is raised there (an error, a time-out, being cancelled) leaves
  `sharing_session[room]` behind, for which every later `room_send` to that room waits for ever.
- An error on /keys/query: the message goes out, and nobody new can ever read it. No one-time key left: that device can
  read nothing until the room's key is changed.
- `share_carefully` does these steps one by one and says whether the server took each. It is no help to a device that
  has no one-time key left: such a one is passed over.
- One-time keys are saved only after the upload is answered. Killed between, the client makes other keys under the same
  ids, which the server refuses from then on ("already exists"). `publish_keys` saves first.
  Where that came too late it makes new ones, but the lost ones stay on the server, and what is sealed for one of them
  cannot be opened (read).
- After the device was logged out its keys are gone from the server, but `account.shared` still says they are there.
  `log_in_again` publishes them anew.
- nio asks for a missing key by itself: `check_if_wedged` queues m.room_key_request to the sender's device (sent by
  `send_to_device_messages`, if an Olm session with it is less than an hour old). `request_room_key` asks one's *own*
  other devices only (read). nio never answers requests of other users, and takes forwarded keys only from its own
  verified devices (read); an m.room_key it takes unasked, and then `client.decrypt_event(event)` works.
- A to-device message can raise TypeError or vodozemac's DecodeException out of the handling of a sync, for ever since
  it comes again; so can a room message whose text is not UTF-8 (read).
- A count of no one-time keys left is taken for no count (read). A device that was logged out and is back with the same
  name and keys stays "deleted" for nio.
- An Olm session and the key that came through it are saved in two steps; `store.database.atomic()` around the handling
  of a sync makes them one.
- Outbound room keys live in memory: each start shares a new one with everybody (read).
- The crypto store is made readable for all (0644).
- Nothing is cross-signed; `cross_sign` does it. The first time this server asks for no password, the same keys again
  are fine, others need the password.
"""

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
