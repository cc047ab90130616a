"""The platform's client: the library's own, without its retries, its pacing and its updater.

Decided here and nowhere else: how long is waited for the platform, what is never logged, what of its answers is read,
and what each of the platform's refusals means to the delivery.
"""

import asyncio
import logging
import os
import re
from collections.abc import Sequence
from datetime import timedelta
from typing import Any, TypeVar
from urllib.parse import quote
from warnings import catch_warnings, simplefilter

from telegram import Bot
from telegram.error import BadRequest, ChatMigrated, Forbidden, InvalidToken, NetworkError, TelegramError, TimedOut
from telegram.error import RetryAfter as Later

from triagebot.channels.telegram.connections import Connections
from triagebot.channels.telegram.limits import KINDS, POLL
from triagebot.messages import Gone, Refused, RetryAfter, Transient

T = TypeVar("T")

#: Where the platform is reached.
SERVER = "https://api.telegram.org"
#: Connections at the same time: as many as the delivery sends on, and one that is held for updates.
CONNECTIONS = 512

#: Parts of what the platform says about a request (in small letters), and what that means: nobody is there any more.
GONE = (
    *("chat not found", "user not found", "peer_id_invalid", "user is deactivated", "bot was kicked", "group chat was"),
    *("message thread not found", "topic_closed", "topic_deleted", "not enough rights", "have no rights"),
    *("chat_write_forbidden", "chat_restricted", "bot is not a member"),
)
#: A topic that nothing can be written in, since it was closed, or for whatever reason.
TOPIC_CLOSED = ("topic_closed",)
TOPIC_LOST = (*TOPIC_CLOSED, "message thread not found", "topic_deleted", "topic_id_invalid")
#: A change that cannot be made, or need not be.
NOTHING_TO_CHANGE = (
    *("message is not modified", "message to edit not found", "message can't be edited", "message_id_invalid"),
    *("there is no text in the message to edit", "there is no caption in the message to edit"),
)
#: A press that nobody waits for an answer to any more.
TOO_OLD = ("query is too old", "query id is invalid", "query_id_invalid")
#: A picture that the platform no longer knows under the name that it gave it.
UNKNOWN_FILE = ("wrong file identifier", "wrong remote file id", "wrong file_id", "file_reference")


def says(error: TelegramError, parts: Sequence[str]) -> bool:
    """Whether a refusal is one of these."""
    said = error.message.lower()
    return any(part in said for part in parts)


class Client(Bot):
    """The library's client, which also gives updates and answers as the platform writes them."""

    async def ask(self, method: str, **given: Any) -> Any:
        """One request, by the platform's name for it (`sendMessage`); gives the answer as the platform wrote it. What
        is None is left out. Raises TelegramError.

        The library's own methods make an object of every message, which costs more than to send it; of a message that
        was sent, its number is all that is needed.
        """
        return await self._post(method, given)

    async def download(self, path: str, most: int) -> tuple[int, bytes | None]:
        """As `Connections.download`, for a file's path as getFile gives it."""
        files = self._request[1]
        assert isinstance(files, Connections)
        return await files.download(f"{self.base_file_url}/{quote(path)}", most)

    async def updates(self, offset: int) -> tuple[list[dict[str, Any]], int]:
        """What waits from this number on (0: from the first), held for `POLL` seconds while nothing does; and the
        number from which to ask next, 0 when nothing came. Raises TelegramError."""
        asked = {"offset": offset, "timeout": POLL, "allowed_updates": list(KINDS)}
        raw: Any = await self._post("getUpdates", asked, read_timeout=POLL + 10.0)
        found = sorted(raw, key=lambda each: int(each["update_id"]))  # one that comes again must pass no other
        return found, int(found[-1]["update_id"]) + 1 if found else 0

    async def hang_up(self) -> None:
        """Closes every connection; the platform is told nothing."""
        await asyncio.gather(*(request.shutdown() for request in self._request))


def client(token: str, server: str = SERVER) -> Client:
    """A client for one bot, to be closed by `hang_up`."""
    quiet(token)
    os.environ.setdefault("PTB_TIMEDELTA", "true")  # the library warns of lengths of time in the old form
    return Client(
        token,
        base_url=f"{server}/bot",
        base_file_url=f"{server}/file/bot",
        request=Connections(CONNECTIONS),
        get_updates_request=Connections(2),
    )


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


def told(error: BaseException) -> str:
    """An error in a few words for the log, without a token."""
    return _TOKEN.sub("(token)", str(error) or type(error).__name__)


# --- what refusals mean -------------------------------------------------------------------------------------------


def seconds(error: Later) -> float:
    """How long the platform wants us to wait; the library gives a number or a length of time, and warns of the one."""
    with catch_warnings():
        simplefilter("ignore")
        wait: Any = error.retry_after
    return float(wait.total_seconds() if isinstance(wait, timedelta) else wait)


def undelivered(error: TelegramError) -> Exception:
    """What a refused request means to the delivery, as the error to raise."""
    if isinstance(error, Later):
        return RetryAfter(seconds(error))
    if isinstance(error, Forbidden) or (isinstance(error, BadRequest) and says(error, GONE)):
        return Gone(told(error))
    if isinstance(error, BadRequest):
        return Refused(told(error))
    if isinstance(error, TimedOut | NetworkError | InvalidToken | ChatMigrated):
        return Transient(told(error))
    return Transient(told(error))
