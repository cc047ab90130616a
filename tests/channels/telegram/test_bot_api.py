"""What the platform's refusals mean to the delivery, and that no token is ever logged."""

import io
import logging

import pytest
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
    TimedOut,
)

from tests.channels.telegram.stage import fresh_token
from triagebot import messages
from triagebot.channels.telegram import client
from triagebot.channels.telegram.bot_api import redacted, undelivered


@pytest.mark.parametrize(
    ("error", "kind"),
    [
        (Forbidden("Forbidden: bot was blocked by the user"), messages.Gone),
        (Forbidden("Forbidden: user is deactivated"), messages.Gone),
        (BadRequest("Bad Request: chat not found"), messages.Gone),
        (BadRequest("Bad Request: message thread not found"), messages.Gone),
        (BadRequest("Bad Request: TOPIC_CLOSED"), messages.Gone),
        (BadRequest("Bad Request: not enough rights to send text messages to the chat"), messages.Gone),
        (BadRequest("Bad Request: message is too long"), messages.Refused),
        (BadRequest("Bad Request: BUTTON_DATA_INVALID"), messages.Refused),
        (TimedOut(), messages.Transient),
        (NetworkError("Bad Gateway"), messages.Transient),
        (InvalidToken("Unauthorized"), messages.Transient),
        (ChatMigrated(-100), messages.Transient),
        (TelegramError("something new"), messages.Transient),
    ],
)
def test_each_refusal_has_its_meaning(error: TelegramError, kind: type[Exception]) -> None:
    assert type(undelivered(error)) is kind


def test_a_pause_is_told_in_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PTB_TIMEDELTA", "true")
    meant = undelivered(RetryAfter(17))
    assert isinstance(meant, messages.RetryAfter)
    assert meant.seconds == 17.0


def test_a_token_is_taken_out_of_what_is_told() -> None:
    token = fresh_token()
    assert redacted(NetworkError(f"POST https://api.example/bot{token}/getMe failed")).count("(token)") == 1
    assert token not in redacted(NetworkError(f"{token} {token}"))


def test_the_libraries_log_no_token(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    root = logging.getLogger()
    monkeypatch.setattr(root, "handlers", [handler])
    monkeypatch.setattr(root, "level", logging.DEBUG)
    token = fresh_token()
    client(token)
    logging.getLogger("httpx").info('HTTP Request: POST https://api.example/bot%s/getMe "200 OK"', token)
    logging.getLogger("telegram.Bot").critical("Error while parsing updates! Received data was %r", ["what Ada wrote"])
    logging.getLogger("elsewhere").warning("asked https://api.example/bot%s/x", token)
    assert token not in stream.getvalue()
    assert "what Ada wrote" not in stream.getvalue()
    assert "asked https://api.example/bot(token)/x" in stream.getvalue()
