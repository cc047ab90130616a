"""One request to the homeserver at a time: what is waited for, and what its answers mean before anybody reads them.

Decided here and nowhere else: how long a request may take, what counts as "the server is away", and what is never
told (addresses hold the ids of rooms and people, headers the token: an error says neither).

- No answer, an error of the server's own (5xx), a pause it asks for (429), and anything that is not the JSON object
  which every answer of this protocol is: `MatrixAway`. Nothing is tried again here.
- Any other refusal is `Denied`, with the protocol's own code for it.
"""

import asyncio
import json
import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any
from urllib.parse import quote, urlencode

import aiohttp

from triagebot.errors import TriagebotError

#: Seconds that an ordinary request may take, and one that moves a file.
PATIENCE, FILE_PATIENCE = 30.0, 120.0
#: Seconds to wait where the server wants a pause and does not say how long, and the longest that is believed.
PAUSE, LONGEST_PAUSE = 5.0, 300.0
#: More than this (bytes) is no answer to an ordinary request.
LARGEST = 64 << 20

CLIENT = "/_matrix/client/v3"

# The libraries say whose keys they handle, and at times what with.
for _name in ("nio", "peewee", "aiohttp"):
    logging.getLogger(_name).setLevel(logging.CRITICAL + 1)


class MatrixAway(Exception):  # noqa: N818 - says what is the case
    """The homeserver gives no answer that can be used; it may later, after `seconds` at the earliest."""

    def __init__(self, what: str, seconds: float = 0.0, limited: bool = False) -> None:
        super().__init__(what)
        self.seconds = seconds
        self.limited = limited


class MatrixRefused(TriagebotError):  # noqa: N818 - says what happened
    """The homeserver will not have this account as it is set up: says why, and what to do."""


class Denied(Exception):  # noqa: N818 - says what happened
    """A request was understood and refused: `status`, the protocol's `code`, and the whole answer."""

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
    def softly(self) -> bool:
        """Logged out, but the device and its keys are still known."""
        return self.logged_out and self.given.get("soft_logout") is True


def path_of(*parts: str, base: str = CLIENT, **query: str) -> str:
    """The path of a request, every part of it quoted."""
    path = "/".join((base, *(quote(part, safe="") for part in parts)))
    return f"{path}?{urlencode(query)}" if query else path


class Line:
    """The way to one homeserver. `token` goes with every request once it is set. Used in one event loop."""

    def __init__(self, server: str) -> None:
        self.server = server.rstrip("/")
        self.token = ""
        self._over = False
        self._session: aiohttp.ClientSession | None = None

    async def ask(
        self, method: str, path: str, body: Mapping[str, Any] | None = None, *, within: float = PATIENCE
    ) -> dict[str, Any]:
        """The answer to a request, of which `within` seconds are given. Raises MatrixAway, Denied."""
        data = None if body is None else json.dumps(body, ensure_ascii=False).encode("utf-8", "replace")
        status, answer, wait = await self.exchange(method, path, data, "application/json", within, LARGEST)
        return meant(status, answer, wait)

    async def exchange(
        self, method: str, path: str, data: bytes | None, media: str, within: float, most: int
    ) -> tuple[int, bytes | None, str]:
        """Status, body and the pause asked for, as they come; no body if it is larger than `most` bytes.

        Raises MatrixAway when there is no answer, or not all of it.
        """
        headers = {"Content-Type": media} if data is not None else {}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        try:
            async with (
                asyncio.timeout(within),
                self._opened().request(method, self.server + path, data=data, headers=headers) as got,
            ):
                wait = got.headers.get("Retry-After", "")
                if (got.content_length or 0) > most:
                    return got.status, None, wait
                whole = bytearray()
                async for piece in got.content.iter_chunked(1 << 16):
                    whole += piece
                    if len(whole) > most:
                        return got.status, None, wait
                return got.status, bytes(whole), wait
        except TimeoutError:
            raise MatrixAway(f"no answer within {within:g} s") from None
        except (aiohttp.ClientError, OSError, ValueError) as error:
            raise MatrixAway(f"no answer ({type(error).__name__})") from None

    def _opened(self) -> aiohttp.ClientSession:
        if self._over:
            raise MatrixAway("the connection is closed")
        if self._session is None:
            self._session = aiohttp.ClientSession(
                connector=aiohttp.TCPConnector(limit=0),
                timeout=aiohttp.ClientTimeout(total=None),
                cookie_jar=aiohttp.DummyCookieJar(),
                trust_env=True,
            )
        return self._session

    async def hang_up(self) -> None:
        """For good."""
        self._over = True
        if self._session is not None:
            session, self._session = self._session, None
            await session.close()


def meant(status: int, answer: bytes | None, wait: str = "") -> dict[str, Any]:
    """The JSON object that an answer is. Raises MatrixAway, Denied."""
    try:
        given = json.loads(answer or b"")
    except ValueError:
        given = None
    if status == HTTPStatus.TOO_MANY_REQUESTS:
        raise MatrixAway("the server wants a pause", _wanted(given, wait), limited=True)
    if status == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:  # web servers say this without JSON
        raise Denied(status, {"errcode": "M_TOO_LARGE"})
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR or not isinstance(given, dict):
        raise MatrixAway(f"the server answers {status}{'' if isinstance(given, dict) else ', not in JSON'}")
    if status != HTTPStatus.OK:
        raise Denied(status, given)
    return given


def _wanted(given: Any, wait: str) -> float:
    """Seconds."""
    told = given.get("retry_after_ms") if isinstance(given, dict) else None
    if isinstance(told, int | float) and not isinstance(told, bool) and told >= 0:
        return min(told / 1000, LONGEST_PAUSE)
    return min(float(wait), LONGEST_PAUSE) if wait.isdecimal() else PAUSE
