"""Requests to the homeserver: how long one may take, and what its answer means.

- No answer, an error of the server's own (5xx), a pause it asks for (429), and anything but the JSON object that every
  answer of this protocol is: `MatrixAway`. Nothing is tried again here.
- Any other refusal is `Denied`, with the protocol's own code for it.
- No error tells an address or a header: they hold the ids of rooms and people, and the token.
"""

import asyncio
import json
import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, NamedTuple
from urllib.parse import quote, urlencode

import aiohttp

from triagebot.errors import TriagebotError

#: Seconds that an ordinary request may take, and one that moves a file.
TIMEOUT, FILE_TIMEOUT = 30.0, 120.0
#: Seconds to wait where the server wants a pause and does not say how long, and the longest that is believed.
PAUSE, LONGEST_PAUSE = 5.0, 300.0
#: Bytes that an answer to an ordinary request may have.
LARGEST = 64 << 20

CLIENT = "/_matrix/client/v3"

# The libraries log whose keys they handle, and at times with what.
for _name in ("nio", "peewee", "aiohttp"):
    logging.getLogger(_name).setLevel(logging.CRITICAL + 1)


class MatrixAway(Exception):  # noqa: N818 - says what is the case
    """The homeserver gives no usable answer; it may later, after `seconds` at the earliest."""

    def __init__(self, what: str, seconds: float = 0.0, limited: bool = False) -> None:
        super().__init__(what)
        self.seconds = seconds
        self.limited = limited


class MatrixRefused(TriagebotError):  # noqa: N818 - says what happened
    """The homeserver refuses this account as it is set up: says why, and what to do."""


class Denied(Exception):  # noqa: N818 - says what happened
    """The server understood a request and refused it: `status`, the protocol's `code`, and the whole answer."""

    def __init__(self, status: int, given: Mapping[str, Any]) -> None:
        code = given.get("errcode")
        self.status = status
        self.code = code if isinstance(code, str) else ""
        self.given = given
        super().__init__(f"{status} {self.code}".strip())

    @property
    def logged_out(self) -> bool:
        return self.status == HTTPStatus.UNAUTHORIZED and self.code in ("M_UNKNOWN_TOKEN", "M_MISSING_TOKEN")

    @property
    def soft_logout(self) -> bool:
        """Logged out, but the device and its keys are still known."""
        return self.logged_out and self.given.get("soft_logout") is True


def path_of(*parts: str, base: str = CLIENT, **query: str) -> str:
    """The path of a request, each part quoted."""
    path = "/".join((base, *(quote(part, safe="") for part in parts)))
    return f"{path}?{urlencode(query)}" if query else path


class Answer(NamedTuple):
    """As it came; `body` is None where it had more bytes than were wanted. `retry_after` is the header of that name."""

    status: int
    body: bytes | None
    retry_after: str


class HttpClient:
    """For one homeserver, in one event loop. `token` goes with every request once it is set."""

    def __init__(self, server: str) -> None:
        self.server = server.rstrip("/")
        self.token = ""
        self._closed = False
        self._session: aiohttp.ClientSession | None = None

    async def request(
        self, method: str, path: str, body: Mapping[str, Any] | None = None, *, timeout: float = TIMEOUT
    ) -> dict[str, Any]:
        """The answer to a request, within `timeout` seconds. Raises MatrixAway, Denied."""
        data = None if body is None else json.dumps(body, ensure_ascii=False).encode("utf-8", "replace")
        return parsed(await self.raw_request(method, path, data, "application/json", timeout))

    async def raw_request(
        self, method: str, path: str, data: bytes | None, media: str, timeout: float, most: int = LARGEST
    ) -> Answer:
        """Raises MatrixAway when there is no answer, or not all of it."""
        headers = {"Content-Type": media} if data is not None else {}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        try:
            async with (
                asyncio.timeout(timeout),
                self._open_session().request(method, self.server + path, data=data, headers=headers) as got,
            ):
                wait = got.headers.get("Retry-After", "")
                if (got.content_length or 0) > most:
                    return Answer(got.status, None, wait)
                whole = bytearray()
                async for piece in got.content.iter_chunked(1 << 16):
                    whole += piece
                    if len(whole) > most:
                        return Answer(got.status, None, wait)
                return Answer(got.status, bytes(whole), wait)
        except TimeoutError:
            raise MatrixAway(f"no answer within {timeout:g} s") from None
        except (aiohttp.ClientError, OSError, ValueError) as error:
            raise MatrixAway(f"no answer ({type(error).__name__})") from None

    def _open_session(self) -> aiohttp.ClientSession:
        if self._closed:
            raise MatrixAway("the connection is closed")
        if self._session is None:
            self._session = aiohttp.ClientSession(
                connector=aiohttp.TCPConnector(limit=0),
                timeout=aiohttp.ClientTimeout(total=None),
                cookie_jar=aiohttp.DummyCookieJar(),
                trust_env=True,
            )
        return self._session

    async def close(self) -> None:
        """For good."""
        self._closed = True
        if self._session is not None:
            session, self._session = self._session, None
            await session.close()


def parsed(answer: Answer) -> dict[str, Any]:
    """The JSON object that an answer is. Raises MatrixAway, Denied."""
    status, given = answer.status, json_in(answer)
    if status == HTTPStatus.TOO_MANY_REQUESTS:
        raise MatrixAway("the server wants a pause", _pause(given, answer.retry_after), limited=True)
    if status == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:  # web servers say this without JSON
        raise Denied(status, {"errcode": "M_TOO_LARGE"})
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR or not isinstance(given, dict):
        raise MatrixAway(f"the server answers {status}{'' if isinstance(given, dict) else ', not in JSON'}")
    if status != HTTPStatus.OK:
        raise Denied(status, given)
    return given


def json_in(answer: Answer) -> Any:
    """None where there is no JSON."""
    try:
        return json.loads(answer.body or b"")
    except ValueError:
        return None


def _pause(given: Any, wait: str) -> float:
    """Seconds."""
    told = given.get("retry_after_ms") if isinstance(given, dict) else None
    if isinstance(told, int | float) and not isinstance(told, bool) and told >= 0:
        return min(told / 1000, LONGEST_PAUSE)
    return min(float(wait), LONGEST_PAUSE) if wait.isdecimal() else PAUSE
