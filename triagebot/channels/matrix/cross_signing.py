"""Cross-signing: the account signs the bot's device, so that ordinary clients do not warn of what it says.

- The signing keys are kept before they are published: without them, making others takes the password.
- Keys that are not ours were made by an ordinary client that somebody logged in to the bot's account, or by a bot whose
  data folder is lost. We replace them once, if the password is there and ours were never in force. When somebody
  replaces ours later, we leave theirs: the device is not cross-signed then, and one line of the log says so.
"""

import base64
import logging
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass, replace
from http import HTTPStatus
from typing import Any

import nio
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from triagebot.channels.matrix.http import Denied, HttpClient, MatrixRefused, path_of
from triagebot.channels.matrix.keys import Keys
from triagebot.channels.matrix.rooms import mapping
from triagebot.channels.matrix.session import AccountFolder, Login

log = logging.getLogger(__name__)

_LOST = (
    "matrix: the homeserver knows the bot's device by other keys than those that are here, and nobody could read what "
    "it writes; {what}"
)


@dataclass(frozen=True, slots=True)
class Published:
    """What the server tells others: the `device`, and the names of the account's self-signing keys."""

    device: Mapping[str, Any]
    signing_keys: frozenset[str]


async def published_device(http: HttpClient, keys: Keys) -> Published:
    """The device as others see it, published if need be. Raises MatrixRefused, MatrixAway, Denied, StoreError."""
    for _ in range(2):
        given = await http.request("POST", path_of("keys", "query"), {"device_keys": {keys.user: [keys.device]}})
        mine = mapping(given, "device_keys", keys.user, keys.device)
        signing_keys = mapping(given, "self_signing_keys", keys.user, "keys")
        if mine:
            if mapping(mine, "keys").get(f"ed25519:{keys.device}") != keys.client.identity:
                raise MatrixRefused(_LOST.format(what="move its folder away, and log it in as a new device"))
            return Published(mine, frozenset(signing_keys))
        keys.set_unpublished()
        await keys.publish()
    raise MatrixRefused("matrix: the homeserver does not keep the keys of the bot's device")


async def cross_sign(
    http: HttpClient, folder: AccountFolder, login: Login, published: Published, password: str
) -> tuple[Login, bool]:
    """Has the account sign the device, if that can be done. Gives the login, which says whether it ever was signed, and
    whether it is now. Raises MatrixAway, StoreError."""
    if not login.master:
        login = replace(login, master=_fresh(), signing=_fresh())
        folder.write(login)
    master, signing = _private(login.master), _private(login.signing)
    name = f"ed25519:{_name(signing)}"
    if name in published.signing_keys and name in mapping(published.device, "signatures", login.user):
        return login, True
    try:
        await _upload(http, login, _public_keys(login.user, master, signing), "" if login.cross_signed else password)
        signed = {each: deepcopy(value) for each, value in published.device.items() if each != "unsigned"}
        _sign(signed, login.user, _name(signing), signing)
        given = await http.request(
            "POST", path_of("keys", "signatures", "upload"), {login.user: {login.device: signed}}
        )
        if given.get("failures"):
            raise Denied(HTTPStatus.BAD_REQUEST, {"errcode": "M_INVALID_SIGNATURE"})
    except Denied as error:
        log.warning(
            "matrix: the account has not cross-signed the bot's device (%s), so clients may warn of what it says: "
            "somebody else has made the signing keys of this account. Give the bot an account of its own",
            error,
        )
        return login, False
    if not login.cross_signed:
        login = replace(login, cross_signed=True)
        folder.write(login)
    return login, True


async def _upload(http: HttpClient, login: Login, upload: dict[str, Any], password: str) -> None:
    path = path_of("keys", "device_signing", "upload")
    try:
        await http.request("POST", path, upload)
    except Denied as error:
        stages = [flow.get("stages") for flow in error.given.get("flows", ()) if isinstance(flow, Mapping)]
        if error.status != HTTPStatus.UNAUTHORIZED or not password or ["m.login.password"] not in stages:
            raise
        log.warning(
            "matrix: the signing keys of %s are replaced; people who had verified it must do so again", login.user
        )
        who = {"type": "m.id.user", "user": login.user}
        auth = {"type": "m.login.password", "identifier": who, "password": password}
        await http.request("POST", path, {**upload, "auth": {**auth, "session": error.given.get("session")}})


def _public_keys(user: str, master: Ed25519PrivateKey, signing: Ed25519PrivateKey) -> dict[str, Any]:
    keys = {"master": master, "self_signing": signing}
    upload: dict[str, Any] = {
        f"{use}_key": {"user_id": user, "usage": [use], "keys": {f"ed25519:{_name(key)}": _name(key)}}
        for use, key in keys.items()
    }
    _sign(upload["self_signing_key"], user, _name(master), master)
    return upload


def _sign(thing: dict[str, Any], user: str, name: str, key: Ed25519PrivateKey) -> None:
    bare = {each: value for each, value in thing.items() if each not in ("signatures", "unsigned")}
    signature = _text(key.sign(nio.Api.to_canonical_json(bare).encode()))
    thing.setdefault("signatures", {}).setdefault(user, {})[f"ed25519:{name}"] = signature


def _fresh() -> str:
    return base64.b64encode(Ed25519PrivateKey.generate().private_bytes_raw()).decode("ascii")


def _private(text: str) -> Ed25519PrivateKey:
    return Ed25519PrivateKey.from_private_bytes(base64.b64decode(text))


def _name(key: Ed25519PrivateKey) -> str:
    """A key is called by its public half."""
    return _text(key.public_key().public_bytes_raw())


def _text(raw: bytes) -> str:
    """As the protocol writes it: unpadded."""
    return base64.b64encode(raw).decode("ascii").rstrip("=")
