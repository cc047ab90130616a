"""Files on the homeserver: pictures that go up, photos that come down, encrypted where the room is."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from nio.crypto.attachments import decrypt_attachment, encrypt_attachment
from nio.exceptions import EncryptionError

from triagebot.channels.matrix.http import (
    FILE_TIMEOUT,
    Answer,
    Denied,
    HttpClient,
    MatrixAway,
    json_in,
    parsed,
    path_of,
)
from triagebot.delivery import TooLarge
from triagebot.messages import Gone, Refused, RetryAfter, Transient

_MEDIA, _OLD_MEDIA = "/_matrix/client/v1/media", "/_matrix/media/v3"
#: A refusal is no longer than this (bytes).
REFUSAL = 1 << 16


async def upload(http: HttpClient, data: bytes, media: str, encrypted: bool) -> dict[str, Any]:
    """Where the file is now: `url`, and what decrypts it (`key`, `iv`, `hashes`, `v`) if it was encrypted.

    Raises RetryAfter, Transient, Refused.
    """
    keys: dict[str, Any] = {}
    if encrypted:
        data, keys = encrypt_attachment(data)
        media = "application/octet-stream"
    try:
        path = path_of("upload", base=_OLD_MEDIA)
        given = parsed(await http.raw_request("POST", path, data, media, FILE_TIMEOUT, REFUSAL))
    except MatrixAway as error:
        raise later(error) from None
    except Denied as error:
        raise (Transient if error.logged_out else Refused)(f"the file is not taken ({error})") from None
    if not isinstance(given.get("content_uri"), str):
        raise Transient("the server names no address of the file")
    return {"url": given["content_uri"], **keys}


async def fetch(http: HttpClient, file: Mapping[str, Any], most: int) -> bytes:
    """A file in clear, of at most `most` bytes. Raises RetryAfter, Transient, Gone, Refused (TooLarge among them)."""
    server, name = _address(file)
    try:
        answer = await _download(http, _MEDIA, server, name, most)
        if answer.status == HTTPStatus.NOT_FOUND and "M_UNRECOGNIZED" in str(json_in(answer)):  # an older server
            answer = await _download(http, _OLD_MEDIA, server, name, most)
    except MatrixAway as error:
        raise later(error) from None
    if answer.status != HTTPStatus.OK:
        raise _refusal(answer)
    if answer.body is None or len(answer.body) > most:
        raise TooLarge(f"more than {most} bytes")
    if "key" not in file:
        return answer.body
    try:
        return bytes(decrypt_attachment(answer.body, file["key"]["k"], file["hashes"]["sha256"], file["iv"]))
    except (EncryptionError, KeyError, TypeError, ValueError):
        raise Refused("the file cannot be decrypted, or was changed on its way") from None


def later(error: MatrixAway) -> Exception:
    """What an absence of the server means to the delivery."""
    return RetryAfter(error.seconds) if error.limited else Transient(str(error))


def _address(file: Mapping[str, Any]) -> tuple[str, str]:
    url = file.get("url")
    server, _, name = url.removeprefix("mxc://").partition("/") if isinstance(url, str) else ("", "", "")
    if not isinstance(url, str) or not url.startswith("mxc://") or not server or not name or "/" in name:
        raise Refused("this is no address of a file")
    return server, name


async def _download(http: HttpClient, base: str, server: str, name: str, most: int) -> Answer:
    path = path_of("download", server, name, base=base)
    return await http.raw_request("GET", path, None, "", FILE_TIMEOUT, max(most, REFUSAL))


def _refusal(answer: Answer) -> Exception:
    try:
        parsed(answer)
    except MatrixAway as error:
        return later(error)
    except Denied as error:
        if error.code == "M_TOO_LARGE":
            return TooLarge(str(error))
        if error.code == "M_NOT_YET_UPLOADED" or error.logged_out:
            return Transient(str(error))
        return Gone(str(error)) if answer.status == HTTPStatus.NOT_FOUND else Refused(str(error))
    return Transient(f"the server answers {answer.status}")
