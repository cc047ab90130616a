"""The webhook: an address to which the platform sends updates, one a request.

Decided here and nowhere else: who is let in (the person who knows the secret, compared in constant time), how much
may be sent, and what is answered. 200 means that the update is on the disk; after anything else the platform sends
it again.
"""

import hmac
import json
import logging
from hashlib import sha256
from typing import Any

from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route
from telegram.error import TelegramError

from triagebot.channels.telegram.bot_api import redacted
from triagebot.channels.telegram.channel import Telegram
from triagebot.channels.telegram.limits import MOST_BODY
from triagebot.delivery import place_of
from triagebot.errors import StoreError

log = logging.getLogger(__name__)

SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"


def secret_from(token: str) -> str:
    """A secret for those who set none: nobody who does not know the token can tell it."""
    return hmac.digest(token.encode(), b"webhook", sha256).hex()


def route(telegram: Telegram, path: str, secret: str) -> Route:
    """Where updates come in, for the application that listens."""

    async def receive(request: Request) -> Response:
        given = request.headers.get(SECRET_HEADER, "")
        if not hmac.compare_digest(given.encode("latin-1", "replace"), secret.encode()):
            return Response(status_code=403)
        try:
            body = await _body(request)
        except ClientDisconnect:
            return Response(status_code=400)
        if body is None:
            return Response(status_code=413)
        raw = _update(body)
        if raw is None:
            return Response(status_code=400)
        try:
            await telegram.take([raw], raw["update_id"] + 1)
        except (StoreError, TelegramError) as error:
            log.warning("telegram: an update could not be kept (%s); it comes again", redacted(error))
            return Response(status_code=503)
        except Exception as error:  # the person who runs the server would write down all that it says
            log.error("telegram: an update failed in our own code: %s", place_of(error))
            return Response(status_code=503)
        return Response(status_code=200)

    return Route(path, receive, methods=["POST"])


async def _body(request: Request) -> bytes | None:
    """What was sent, or None once it is more than is taken."""
    announced = request.headers.get("content-length", "0")
    if not announced.isdecimal() or int(announced) > MOST_BODY:
        return None
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BODY:
            return None
    return bytes(body)


def _update(body: bytes) -> dict[str, Any] | None:
    try:
        raw = json.loads(body)
    except (ValueError, RecursionError):
        return None
    return raw if isinstance(raw, dict) and isinstance(raw.get("update_id"), int) else None
