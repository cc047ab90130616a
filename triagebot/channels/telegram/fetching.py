"""Fetches a photo from the platform: first its path is asked for, then what is there is read.

Decided here and nowhere else: what each answer means for the photo. Never more than what was asked for is held. The
address of a file holds the token, and is told to nobody.
"""

import json
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from telegram.error import BadRequest, TelegramError

from triagebot.channels.telegram.client import Client, says, told, undelivered
from triagebot.delivery import TooLarge
from triagebot.messages import RetryAfter, Transient

#: Parts of refusals (in small letters): a file over the platform's own limit, and one that it has not at hand just now.
OVER_THE_LIMIT = ("file is too big",)
NOT_NOW = ("temporarily unavailable",)
#: Seconds to wait where the platform wants a pause and does not say how long.
PAUSE = 5.0


async def fetch(client: Client, place: Mapping[str, Any], most: int) -> bytes:
    """The photo with the `file` id of a place. Raises RetryAfter, Transient, Gone, Refused and, of these, TooLarge."""
    try:
        found = await client.ask("getFile", file_id=place["file"])
        if int(found.get("file_size") or 0) > most:
            raise TooLarge(f"more than {most} bytes")
        path = found.get("file_path")
        if not path:
            raise Transient("the platform names no path of the file")
        status, data = await client.download(path, most)
    except TelegramError as error:
        raise _meant(error) from None
    if data is None:
        raise TooLarge(f"more than {most} bytes")
    if status == HTTPStatus.TOO_MANY_REQUESTS:
        raise RetryAfter(_wanted(data))
    if status != HTTPStatus.OK:  # its path was good a moment ago
        raise Transient(f"the platform answers {status}")
    return data


def _meant(error: TelegramError) -> Exception:
    if isinstance(error, BadRequest) and says(error, OVER_THE_LIMIT):
        return TooLarge(told(error))
    if isinstance(error, BadRequest) and says(error, NOT_NOW):
        return Transient(told(error))
    return undelivered(error)


def _wanted(answer: bytes) -> float:
    try:
        return float(json.loads(answer)["parameters"]["retry_after"])
    except (ValueError, KeyError, TypeError):
        return PAUSE
