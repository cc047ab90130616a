"""Files on the homeserver: pictures that go up, photos that come down, sealed where the room is.

Decided here and nowhere else: how long that may take, how much of a file is held, and what the server's answers mean.
"""

import json
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from nio.crypto.attachments import decrypt_attachment, encrypt_attachment
from nio.exceptions import EncryptionError

from triagebot.channels.matrix.http import FILE_PATIENCE, Denied, Line, MatrixAway, meant, path_of
from triagebot.delivery import TooLarge
from triagebot.messages import Gone, Refused, RetryAfter, Transient

_MEDIA, _MEDIA_BEFORE = "/_matrix/client/v1/media", "/_matrix/media/v3"
#: A refusal is no longer than this (bytes).
ANSWER = 1 << 16
_SEALED = "application/octet-stream"


async def upload(line: Line, data: bytes, media: str, sealed: bool) -> dict[str, Any]:
    """Where a file lies now: `url`, and what opens it (`key`, `iv`, `hashes`, `v`) if it was sealed.

    Raises RetryAfter, Transient, Refused.
    """
    keys: dict[str, Any] = {}
    if sealed:
        data, keys = encrypt_attachment(data)
        media = _SEALED
    path = path_of("upload", base=_MEDIA_BEFORE)
    try:
        status, answer, wait = await line.exchange("POST", path, data, media, FILE_PATIENCE, ANSWER)
        given = meant(status, answer, wait)
    except MatrixAway as error:
        raise later(error) from None
    except Denied as error:
        raise (Transient if error.logged_out else Refused)(f"the file is not taken ({error})") from None
    if not isinstance(given.get("content_uri"), str):
        raise Transient("the server names no address of the file")
    return {"url": given["content_uri"], **keys}


async def fetch(line: Line, file: Mapping[str, Any], most: int) -> bytes:
    """A file in clear, of at most so many bytes. Raises RetryAfter, Transient, Gone, Refused (TooLarge among them)."""
    server, name = _place(file)
    status, data, wait = await _downloaded(line, path_of("download", server, name, base=_MEDIA), most)
    if status == HTTPStatus.NOT_FOUND and _code(data) == "M_UNRECOGNIZED":  # a server from before these addresses
        status, data, wait = await _downloaded(line, path_of("download", server, name, base=_MEDIA_BEFORE), most)
    if status != HTTPStatus.OK:
        raise _refusal(status, data, wait)
    if data is None or len(data) > most:
        raise TooLarge(f"more than {most} bytes")
    if "key" not in file:
        return data
    try:
        return bytes(decrypt_attachment(data, file["key"]["k"], file["hashes"]["sha256"], file["iv"]))
    except (EncryptionError, KeyError, TypeError, ValueError):
        raise Refused("the file cannot be opened, or was changed on its way") from None


def later(error: MatrixAway) -> Exception:
    """What an absence of the server means to the delivery."""
    return RetryAfter(error.seconds) if error.limited else Transient(str(error))


def _place(file: Mapping[str, Any]) -> tuple[str, str]:
    url = file.get("url")
    server, _, name = url.removeprefix("mxc://").partition("/") if isinstance(url, str) else ("", "", "")
    if not isinstance(url, str) or not url.startswith("mxc://") or not server or not name or "/" in name:
        raise Refused("this is no address of a file")
    return server, name


async def _downloaded(line: Line, path: str, most: int) -> tuple[int, bytes | None, str]:
    try:
        return await line.exchange("GET", path, None, "", FILE_PATIENCE, max(most, ANSWER))
    except MatrixAway as error:
        raise later(error) from None


def _refusal(status: int, data: bytes | None, wait: str) -> Exception:
    try:
        meant(status, data, wait)
    except MatrixAway as error:
        return later(error)
    except Denied as error:
        if error.code == "M_TOO_LARGE":
            return TooLarge(str(error))
        if error.code == "M_NOT_YET_UPLOADED" or error.logged_out:
            return Transient(str(error))
        return Gone(str(error)) if status == HTTPStatus.NOT_FOUND else Refused(str(error))
    return Transient(f"the server answers {status}")


def _code(data: bytes | None) -> str:
    try:
        given = json.loads(data or b"")
    except ValueError:
        return ""
    return str(given.get("errcode", "")) if isinstance(given, dict) else ""
