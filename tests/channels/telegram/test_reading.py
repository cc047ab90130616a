"""What the reader makes of updates as the platform writes them, and of those that cannot be read."""

import logging
from typing import Any

import pytest

from triagebot.channels.telegram.reading import Button as Packed
from triagebot.channels.telegram.reading import Press, Reader, pack
from triagebot.messages import Pressed, Said

ADA = {"id": 7, "is_bot": False, "first_name": "Ada", "language_code": "en"}
CHAT = {"id": 7, "type": "private", "first_name": "Ada"}


def said(number: int, **more: Any) -> dict[str, Any]:
    message = {"message_id": number, "date": 1_700_000_000, "chat": CHAT, "from": ADA, "text": f"number {number}"}
    return {"update_id": number, "message": {**message, **more}}


def reader() -> Reader:
    return Reader(1, "wheel_bot", "en", ("en",))


@pytest.mark.parametrize(
    "broken",
    [
        {"message": {"message_id": "odd"}},
        {"message": []},
        {"message": said(2)["message"] | {"date": None}},
        {"message": said(2)["message"] | {"date": "yesterday"}},
        {"message": {name: value for name, value in said(2)["message"].items() if name != "chat"}},
        {"message": said(2)["message"] | {"from": {"id": 7}}},
        {"callback_query": {"id": "1"}},
        {"edited_message": None, "message": said(2)["message"] | {"text": ["Ada's secret"]}},
    ],
)
def test_an_update_that_cannot_be_read_holds_up_no_other(
    broken: dict[str, Any], caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR, "triagebot"):
        before, odd, after = map(reader().safely, [said(1), {"update_id": 2} | broken, said(3)])
    assert (odd.incoming, odd.press) == (None, None)
    assert [read.incoming.content for read in (before, after) if read.incoming] == [Said("number 1"), Said("number 3")]
    (line,) = (record.getMessage() for record in caplog.records)
    assert line.startswith("telegram: update 2 cannot be read, and is passed over: ")
    assert "secret" not in line


def test_what_we_do_not_know_is_nothing_and_no_error(caplog: pytest.LogCaptureFixture) -> None:
    channel = said(2, chat={"id": -9, "type": "channel", "title": "News"})
    new, post, field = map(reader().safely, [{"update_id": 1, "something_new": {}}, channel, said(3, shiny={"a": 1})])
    assert (new.incoming, post.incoming) == (None, None)
    assert field.incoming is not None
    assert caplog.records == []


@pytest.mark.parametrize("date", [0, 1_700_000_000])
def test_a_press_counts_under_a_message_that_can_be_seen_and_under_one_that_cannot(date: int) -> None:
    """A message that is too old for the platform to show comes without its text, and with no date."""
    message = {"message_id": 4, "date": date, "chat": CHAT}
    query = {"id": "99", "from": ADA, "chat_instance": "1", "data": pack(Packed("splines", "K7M-4QX", 3))}
    read = reader().safely({"update_id": 1, "callback_query": query | {"message": message}})
    assert read.press == Press("99", "en")
    assert read.incoming is not None
    assert read.incoming.content == Pressed("K7M-4QX", 3, "splines")
    assert read.incoming.address == {"chat": 7}
