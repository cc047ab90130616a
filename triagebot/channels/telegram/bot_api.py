"""The library's client over connections of our own, at the platform's pace, without its retries and its updater.

Decided here and nowhere else: how long we wait for the platform, what is never logged, and what each of the platform's
refusals means to the delivery.
"""

import asyncio
import json
import logging
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from http import HTTPStatus
from time import monotonic
from typing import Any
from urllib.parse import quote
from urllib.request import getproxies
from warnings import catch_warnings, simplefilter

import aiohttp
from telegram import Bot
from telegram.error import BadRequest, Forbidden, NetworkError, TelegramError, TimedOut
from telegram.error import RetryAfter as TelegramRetryAfter
from telegram.request import BaseRequest, RequestData

from triagebot.channels.telegram.limits import (
    BOT_ROOM,
    CHAT_ROOM,
    EDIT_WAITS,
    FOR_MESSAGES,
    GROUP_ROOM,
    KINDS,
    MOST_ROOMS,
    POLL,
)
from triagebot.delivery import TooLarge
from triagebot.messages import Gone, Refused, RetryAfter, Transient
from triagebot.rates import Buckets, Window

#: Where the platform is reached.
SERVER = "https://api.telegram.org"
#: Connections at the same time: as many as the delivery sends on, and one that is held for updates.
CONNECTIONS = 512
#: Seconds for a connection to be made or to become free, and for the platform to answer.
CONNECT, READ = 10.0, 20.0
#: Seconds that an idle connection is kept.
KEPT = 30.0
#: Seconds after which it is looked again for room that no message waits for.
LOOK_AGAIN = 0.1
#: Seconds to wait where the platform wants a pause and does not say how long.
PAUSE = 5.0

#: Parts of the platform's refusals (in small letters), by what they mean. The chat or its member is not there any more:
GONE = (
    *("chat not found", "user not found", "peer_id_invalid", "user is deactivated", "bot was kicked", "group chat was"),
    *("message thread not found", "topic_closed", "topic_deleted", "not enough rights", "have no rights"),
    *("chat_write_forbidden", "chat_restricted", "bot is not a member"),
)
#: Nothing can be written in a topic, because it was closed, or for whatever reason.
TOPIC_CLOSED = ("topic_closed",)
TOPIC_LOST = (*TOPIC_CLOSED, "message thread not found", "topic_deleted", "topic_id_invalid")
#: An edit that cannot be made, or need not be.
NOTHING_TO_CHANGE = (
    *("message is not modified", "message to edit not found", "message can't be edited", "message_id_invalid"),
    *("there is no text in the message to edit", "there is no caption in the message to edit"),
)
#: A press whose answer nobody waits for any more.
TOO_OLD = ("query is too old", "query id is invalid", "query_id_invalid")
#: A picture that the platform no longer knows by the id that it gave it.
UNKNOWN_FILE = ("wrong file identifier", "wrong remote file id", "wrong file_id", "file_reference")
#: A file over the platform's own limit, and one that is not available just now.
OVER_THE_LIMIT = ("file is too big",)
NOT_NOW = ("temporarily unavailable",)


class Connections(BaseRequest):
    """Carries the client's requests over aiohttp: at most `most` connections, made when they are needed, in the event
    loop that asks first.

    The library's own transport (httpx) looks through its whole pool at every request: with a hundred messages under way
    a request takes 3 ms of the processor; here it takes 0.4 ms, however many there are.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._session: aiohttp.ClientSession | None = None

    @property
    def read_timeout(self) -> float:
        return READ

    async def initialize(self) -> None:
        if self._session is None:
            # aiohttp looks up the proxy at every request, in another thread: only where there is one.
            self._session = aiohttp.ClientSession(
                connector=aiohttp.TCPConnector(limit=self._most, keepalive_timeout=KEPT),
                headers={"User-Agent": self.USER_AGENT},
                cookie_jar=aiohttp.DummyCookieJar(),
                trust_env=bool(getproxies()),
            )

    async def shutdown(self) -> None:
        if self._session is not None:
            await self._session.close()
            self._session = None

    async def download(self, url: str, most: int) -> tuple[int, bytes | None]:
        """The status and the body at an address; None for a body of more than `most` bytes, the rest of which is not
        read. Raises NetworkError, TimedOut."""
        session = await self._opened()
        with _library_errors():
            async with session.get(url, timeout=_timeout(READ)) as response:
                if (response.content_length or 0) > most:
                    return response.status, None
                body = bytearray()
                async for piece in response.content.iter_chunked(65_536):
                    body += piece
                    if len(body) > most:
                        return response.status, None
                return response.status, bytes(body)

    async def do_request(
        self,
        url: str,
        method: str,
        request_data: RequestData | None = None,
        read_timeout: Any = BaseRequest.DEFAULT_NONE,
        write_timeout: Any = BaseRequest.DEFAULT_NONE,
        connect_timeout: Any = BaseRequest.DEFAULT_NONE,
        pool_timeout: Any = BaseRequest.DEFAULT_NONE,
    ) -> tuple[int, bytes]:
        """Raises NetworkError, TimedOut."""
        session = await self._opened()
        read = read_timeout if isinstance(read_timeout, int | float) else READ
        body, headers = _body(request_data)
        with _library_errors():
            async with session.request(method, url, data=body, headers=headers, timeout=_timeout(read)) as response:
                return response.status, await response.read()

    async def _opened(self) -> aiohttp.ClientSession:
        await self.initialize()
        assert self._session is not None
        return self._session


def _timeout(read: float) -> aiohttp.ClientTimeout:
    return aiohttp.ClientTimeout(total=None, connect=CONNECT, sock_connect=CONNECT, sock_read=read)


@contextmanager
def _library_errors() -> Iterator[None]:
    """Raises aiohttp's errors as the library's, without their text and cause: both may hold the address, and with it
    the token."""
    try:
        yield
    except TimeoutError:
        raise TimedOut from None
    except (aiohttp.ClientError, OSError) as error:
        raise NetworkError(type(error).__name__) from None


def _body(given: RequestData | None) -> tuple[Any, dict[str, str]]:
    """A request's body, and its content type where aiohttp does not set it."""
    if given is None:
        return None, {}
    if not given.contains_files:
        return json.dumps(given.parameters).encode(), {"Content-Type": "application/json"}
    form = aiohttp.FormData()
    for name, value in given.json_parameters.items():
        form.add_field(name, value)
    for name, (file, data, kind) in given.multipart_data.items():
        form.add_field(name, data, filename=file, content_type=kind)
    return form, {}


class Client(Bot):
    """The library's client, which gives updates and answers as the platform writes them."""

    def __init__(self, token: str, server: str) -> None:
        self._connections = Connections(CONNECTIONS)
        self._files = f"{server}/file/bot{token}"
        requests = self._connections
        super().__init__(token, f"{server}/bot", request=requests, get_updates_request=requests)

    async def ask(self, method: str, *, read_timeout: float = READ, **given: Any) -> Any:
        """One request, by the platform's name for it (`sendMessage`); gives the answer as the platform wrote it. None
        values are left out. Raises TelegramError.

        The library's `send_message` and its like make an object of every message that was sent (0.4 ms of the
        processor), of which only the number is needed. The library warns of names that it has a method for; it only
        knows them in camel case, and the platform takes them in small letters, too.
        """
        return await self.do_api_request(method.lower(), given, read_timeout=read_timeout)

    async def updates(self, offset: int) -> tuple[list[dict[str, Any]], int]:
        """The updates that wait from this number on (0: from the first), held for `POLL` seconds while there are none;
        and the number from which to ask next, 0 when nothing came. Raises TelegramError.

        The library's `get_updates` makes objects of all of them at once, so one that it cannot read loses the batch.
        """
        raw = await self.ask(
            "getUpdates", offset=offset, timeout=POLL, allowed_updates=list(KINDS), read_timeout=POLL + 10.0
        )
        found = sorted(raw, key=lambda each: int(each["update_id"]))  # one that comes again must pass no other
        return found, int(found[-1]["update_id"]) + 1 if found else 0

    async def photo(self, file: str, most: int) -> bytes:
        """The photo with this file id. Raises RetryAfter, Transient, Gone, Refused and, of these, TooLarge.

        The address of a file holds the token, and is told to nobody. No more than `most` bytes are held.
        """
        try:
            found = await self.ask("getFile", file_id=file)
            if int(found.get("file_size") or 0) > most:
                raise TooLarge(f"more than {most} bytes")
            path = found.get("file_path")
            if not path:
                raise Transient("the platform names no path of the file")
            status, data = await self._connections.download(f"{self._files}/{quote(path)}", most)
        except TelegramError as error:
            if isinstance(error, BadRequest) and says(error, OVER_THE_LIMIT):
                raise TooLarge(redacted(error)) from None
            if isinstance(error, BadRequest) and says(error, NOT_NOW):
                raise Transient(redacted(error)) from None
            raise undelivered(error) from None
        if data is None:
            raise TooLarge(f"more than {most} bytes")
        if status == HTTPStatus.TOO_MANY_REQUESTS:
            raise RetryAfter(_wanted_pause(data))
        if status != HTTPStatus.OK:  # its path was good a moment ago
            raise Transient(f"the platform answers {status}")
        return data

    async def hang_up(self) -> None:
        """Closes every connection; the platform is told nothing."""
        await self._connections.shutdown()


def client(token: str, server: str = SERVER) -> Client:
    """A client for one bot, to be closed by `hang_up`."""
    quiet(token)
    os.environ.setdefault("PTB_TIMEDELTA", "true")  # the library warns of lengths of time in the old form
    return Client(token, server)


def _wanted_pause(answer: bytes) -> float:
    try:
        return float(json.loads(answer)["parameters"]["retry_after"])
    except (ValueError, KeyError, TypeError):
        return PAUSE


class Pace:
    """Keeps to the platform's pace by itself, chat by chat: a chat that is full holds up no other. New messages go
    first: a change of an old one only takes room that is left over."""

    def __init__(self) -> None:
        self._bot = Window(BOT_ROOM)
        self._chats = Buckets(CHAT_ROOM, MOST_ROOMS)
        self._groups = Buckets(GROUP_ROOM, MOST_ROOMS)
        self._next = asyncio.Lock()
        self._pressed_until = 0.0

    async def room(self, chat: int, messages: int = 1) -> None:
        """Waits until so many more messages may go to this chat. Groups have negative numbers.

        Who waits for the bot's room takes it when it is their turn, and not beforehand: where we wake late, those
        behind go later, and not all at once."""
        own = self._groups if chat < 0 else self._chats
        await asyncio.sleep(max(own.reserve(str(chat)) for _ in range(messages)))
        began = monotonic()
        async with self._next:
            for _ in range(messages):
                while wait := self._bot.wait():
                    await asyncio.sleep(wait)
        if monotonic() - began > EDIT_WAITS:
            self._pressed_until = monotonic() + 2 * EDIT_WAITS

    async def room_left_over(self) -> bool:
        """Whether a message may be changed: there is room now, or within `EDIT_WAITS`, that no new message takes, nor
        the next one would. A change counts for the bot alone, and not for its chat."""
        ends = monotonic() + EDIT_WAITS
        while (wait := self._soon()) and max(monotonic() + wait, self._pressed_until) <= ends:
            await asyncio.sleep(wait)
        return not wait

    def _soon(self) -> float:
        """Takes room that is left over: 0; else when to look again, s."""
        if self._next.locked() or monotonic() < self._pressed_until:
            return LOOK_AGAIN
        return self._bot.wait(beside=FOR_MESSAGES)

    def moved(self, old: int, new: int) -> None:
        """A group has another number now, and keeps its room."""
        self._groups.rename(str(old), str(new))


# --- what is never logged -----------------------------------------------------------------------------------------


class _Redacting(logging.Filter):
    """Takes tokens out of whatever is logged: addresses of requests hold them."""

    def __init__(self, token: str) -> None:
        super().__init__()
        self._token = token

    def filter(self, record: logging.LogRecord) -> bool:
        message = record.getMessage()
        if self._token in message:
            record.msg, record.args = message.replace(self._token, "(token)"), ()
        if record.exc_info and record.exc_info[1] is not None and self._token in repr(record.exc_info[1]):
            record.exc_info, record.exc_text = None, None
        return True


def quiet(token: str) -> None:
    """The libraries log addresses with the token in them, and at times what people wrote: none of that is kept."""
    for name in ("aiohttp", "telegram"):
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    for handler in logging.getLogger().handlers:
        handler.addFilter(_Redacting(token))


_TOKEN = re.compile(r"\d{3,}:[A-Za-z0-9_-]{20,}")


def redacted(error: BaseException) -> str:
    """An error in a few words for the log, without a token."""
    return _TOKEN.sub("(token)", str(error) or type(error).__name__)


# --- what refusals mean -------------------------------------------------------------------------------------------


def says(error: TelegramError, parts: Sequence[str]) -> bool:
    """Whether a refusal is one of these."""
    said = error.message.lower()
    return any(part in said for part in parts)


def seconds(error: TelegramRetryAfter) -> float:
    """How long the platform wants us to wait; the library gives a number or a length of time, and warns of the one."""
    with catch_warnings():
        simplefilter("ignore")
        wait: Any = error.retry_after
    return float(wait.total_seconds() if isinstance(wait, timedelta) else wait)


def undelivered(error: TelegramError) -> Exception:
    """The delivery's error for a refused request; a refusal that we do not know may pass."""
    if isinstance(error, TelegramRetryAfter):
        return RetryAfter(seconds(error))
    if isinstance(error, Forbidden) or (isinstance(error, BadRequest) and says(error, GONE)):
        return Gone(redacted(error))
    if isinstance(error, BadRequest):
        return Refused(redacted(error))
    return Transient(redacted(error))
