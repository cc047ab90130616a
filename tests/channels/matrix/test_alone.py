"""The channel without a server: what is kept when, what is told, what is tried again."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio

from tests.channels.matrix.recorded import RecordedConnection
from tests.conversation.guides import shipped_guide
from tests.store.fresh import open_fresh
from triagebot.channels import polling
from triagebot.channels.matrix import Matrix, channel, sending
from triagebot.channels.matrix.http import MatrixAway, MatrixRefused
from triagebot.channels.matrix.rooms import Invite, SyncResult
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.channels.matrix.sending import Sender
from triagebot.conversation import Reply
from triagebot.conversation.blocks import Attachment, Picture, Remark
from triagebot.delivery import Delivery, outbox
from triagebot.errors import StoreError
from triagebot.messages import Outgoing, Refused, RetryAfter, Transient

pytestmark = pytest.mark.asyncio

ADA = "@ada:shop.test"
ROOM = Room("!a", "!a", direct=True, encrypted=False)


@pytest.fixture(autouse=True)
def _short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.001)
    monkeypatch.setattr(polling, "FIRST_PAUSE", 0.001)
    monkeypatch.setattr(polling, "LONGEST_PAUSE", 0.01)
    monkeypatch.setattr(channel, "REFUSED_AGAIN", 0.01)
    monkeypatch.setattr(channel, "JOIN_AGAIN", (0.001, 0.001))


def words(text: str, event: str, kind: Any = "words", **more: Any) -> Seen:
    return Seen(kind, event, ROOM, ADA, datetime(2026, 1, 5, 9, tzinfo=UTC), text, **more)


class Stand:
    """A channel on a delivery, connected to nothing."""

    def __init__(self, folder: Path) -> None:
        self.store = open_fresh(folder / "data", folder / "key")
        self.delivery = Delivery(shipped_guide(), self.store, try_again=(0.0, 0.0), grace=1.0)
        self.connection = RecordedConnection()
        self.connection.known["!a"] = ROOM
        self.channel = Matrix(shipped_guide(), self.delivery, self.connection)

    async def until(self, found: Callable[[], object]) -> None:
        async with asyncio.timeout(300):
            while not found():
                await asyncio.sleep(0.002)

    async def bring(self, *results: SyncResult | Exception) -> None:
        """Until all of it was taken in, and all that comes of it has gone out."""
        expected = len(self.connection.synced_from) + len(results)
        self.connection.bring(*results)
        await self.until(lambda: len(self.connection.synced_from) >= expected and not self.connection.brings)
        await self.delivery.idle()

    def texts(self, kind: str = "") -> list[str]:
        return [str(content["body"]) for content in self.connection.messages("!a", kind)]


@pytest_asyncio.fixture
async def stand(tmp_path: Path) -> AsyncIterator[Stand]:
    stand = Stand(tmp_path)
    async with stand.delivery:
        await stand.channel.open()
        await stand.delivery.serve(stand.channel)
        running = asyncio.create_task(stand.channel.run())
        await stand.until(lambda: stand.connection.synced_from)
        yield stand
        stand.channel.stop()
        await asyncio.wait_for(running, 60)
        await stand.channel.close()
    stand.store.close()


async def test_the_next_sync_begins_where_the_last_was_kept(stand: Stand) -> None:
    await stand.bring(SyncResult("1", (words("9 sprockets", "$1"),)))
    assert stand.connection.synced_from == [None, "1"]
    assert '"look": "1"' in str(await stand.delivery.place("matrix"))
    await stand.until(lambda: ("read", "!a", "$1") in stand.connection.asked)
    await stand.bring(SyncResult("2"), SyncResult("3"))
    assert stand.connection.synced_from[-1] == "3"
    assert '"look": "1"' in str(await stand.delivery.place("matrix")), "syncs that brought nothing need not be kept"
    other = Matrix(shipped_guide(), stand.delivery, stand.connection)
    await other.open()
    assert other._place == "1"


async def test_what_cannot_be_kept_is_looked_for_again(
    stand: Stand, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """What the reader has learned from it counts for nothing then: it is told once all the same."""
    real, fails = stand.delivery.receive_all, [StoreError("disk full"), StoreError("disk full")]

    async def failing(*args: Any) -> Any:
        if fails:
            raise fails.pop()
        return await real(*args)

    monkeypatch.setattr(stand.delivery, "receive_all", failing)
    result = SyncResult("1", (words("", "$1", "undecryptable"), words("", "$2", "undecryptable")))
    await stand.bring(result, result, result)
    assert stand.connection.synced_from == [None, None, None, "1"]
    assert len([text for text in stand.texts("m.notice") if "write it once more" in text]) == 1
    assert [what for what in stand.connection.asked if what[0] == "key"] == [("key", "$1"), ("key", "$2")]
    told = [record.getMessage() for record in caplog.records if record.levelno >= logging.WARNING]
    assert told == [
        "matrix: messages cannot be kept, so none are fetched (disk full); tried again until it works",
        "matrix: works again, after 2 failed attempts",
    ]


async def test_trouble_is_told_once_and_tried_again(stand: Stand, caplog: pytest.LogCaptureFixture) -> None:
    gone = MatrixRefused("matrix: the homeserver has logged @wheels:shop.test out; give a new access token")
    await stand.bring(
        MatrixAway("no answer"), MatrixAway("no answer", 0.01), gone, RuntimeError("of ours"), SyncResult("1")
    )
    told = [record.getMessage() for record in caplog.records if record.levelno >= logging.WARNING]
    assert [line.split(";")[0] for line in told] == [
        "matrix: no answer from the homeserver (no answer)",
        "matrix: the homeserver has logged @wheels:shop.test out",
        told[2].split(";")[0],
        "matrix: works again, after 4 failed attempts",
    ]
    assert told[2].startswith("matrix: a fault of our own (RuntimeError at ")
    assert [what for what in stand.connection.asked if what[0] == "open"] == [("open",)] * 2, "it logs in anew"


async def test_one_that_cannot_be_read_is_passed_over(
    stand: Stand, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    real = stand.channel._reader._content  # type: ignore[attr-defined]

    def failing(reader: object, seen: Seen, text: str) -> object:
        assert seen.id != "$1"
        return real(seen, text)

    monkeypatch.setattr(type(stand.channel._reader), "_content", failing)
    await stand.bring(SyncResult("1", (words("a secret", "$1"), words("9 sprockets", "$2"))))
    assert "9 sprockets" in stand.texts()[-1]
    assert "cannot be read, and is passed over: AssertionError" in caplog.text
    assert "a secret" not in caplog.text


async def test_a_picture_with_its_words_is_one_event_that_goes_on_where_it_broke_off(stand: Stand) -> None:
    stand.connection.fates["upload"].append(Transient("later"))
    stand.connection.fates["send"].extend([Transient("later")])
    await stand.bring(SyncResult("1", (words("6 sprockets", "$1"),)))
    assert [content["msgtype"] for content in stand.connection.messages("!a")] == ["m.image"]
    assert "6 sprockets" in stand.texts()[-1]
    assert len(stand.connection.files) == 1, "what was uploaded is not uploaded again"


async def test_what_only_waits_for_its_room_keeps_its_picture(stand: Stand) -> None:
    """However often the process was ended meanwhile."""
    sender = Sender(shipped_guide(), stand.delivery, stand.connection)  # type: ignore[arg-type]
    reply = Reply((Remark("Count them."), Picture("notches-4")), "question")
    message = Outgoing(7, "message", {"room": "!new"}, reply, "K7M-4QX", 1, "en", attempt=9)  # type: ignore[arg-type]
    with pytest.raises(Transient, match="not known yet"):
        await sender.deliver(message)
    await sender.close()
    assert stand.connection.messages("!new") == []


async def test_a_picture_that_fails_again_and_again_is_left_out(stand: Stand, caplog: pytest.LogCaptureFixture) -> None:
    stand.connection.fates["upload"].extend([Transient("no room for files")] * (sending.PICTURE_TRIES + 1))
    await stand.bring(SyncResult("1", (words("6 sprockets", "$1"),)))
    assert [content["msgtype"] for content in stand.connection.messages("!a")] == ["m.text"]
    assert "a picture cannot be sent (no room for files)" in caplog.text


async def test_an_album_is_its_words_and_then_its_photos_in_order(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def photo(number: int) -> bytes | None:
        return None if number == 6 else f"photo {number}".encode()

    monkeypatch.setattr(stand.delivery, "photo", photo)
    stand.connection.fates["upload"].append(Transient("later"))
    sender = Sender(shipped_guide(), stand.delivery, stand.connection)  # type: ignore[arg-type]
    reply = Reply((Remark("From behind."),), "person")
    message = Outgoing(
        7, "send", {"room": "!a", "thread": "$root"}, reply, "K7M-4QX", 1, "en", photo=5, album=(6, 8, 7)
    )
    with pytest.raises(Transient):
        await sender.deliver(message)
    receipt = await sender.deliver(message)
    await sender.close()
    words, *photos = stand.connection.messages("!a")
    assert words["body"] == "From behind."
    assert [stand.connection.files[each["url"]] for each in photos] == [b"photo 5", b"photo 8", b"photo 7"]
    assert {each["body"] for each in photos} == {each["filename"] for each in photos}, "none has a caption"
    assert {each["m.relates_to"]["event_id"] for each in (words, *photos)} == {"$root"}
    assert len(receipt["others"]) == len(photos), "an answer to any of them is an answer to us"


@pytest.mark.parametrize("refused", [False, True])
async def test_a_file_goes_before_the_words_and_holds_up_none(
    stand: Stand, caplog: pytest.LogCaptureFixture, refused: bool
) -> None:
    if refused:
        stand.connection.fates["upload"].append(Refused("too many files"))
    reply = Reply((Remark("See you on Thursday."), Attachment("visit.ics", "BEGIN:VCALENDAR")), "question")
    sender = Sender(shipped_guide(), stand.delivery, stand.connection)  # type: ignore[arg-type]
    receipt = await sender.deliver(Outgoing(7, "message", {"room": "!a"}, reply, "K7M-4QX", 1, "en"))
    await sender.close()
    sent = stand.connection.messages("!a")
    assert [content["msgtype"] for content in sent] == (["m.text"] if refused else ["m.file", "m.text"])
    assert sent[-1]["body"] == "See you on Thursday."
    assert receipt["event"].endswith("7-0"), "what is changed later are the words"
    if refused:
        assert "a file cannot be sent (too many files)" in caplog.text
    else:
        assert (sent[0]["filename"], sent[0]["info"]["mimetype"]) == ("visit.ics", "text/calendar")
        assert stand.connection.files[sent[0]["url"]] == b"BEGIN:VCALENDAR"


async def test_numbers_stop_when_something_newer_goes_out(stand: Stand) -> None:
    held = asyncio.Event()
    real = stand.connection.send

    async def slow(room: str, kind: str, content: Any, tx: str) -> str:
        if kind == "m.reaction" and tx.endswith("number-2") and not held.is_set():
            await held.wait()
        return await real(room, kind, content, tx)

    stand.connection.send = slow  # type: ignore[method-assign]
    await stand.bring(SyncResult("1", (words("9 sprockets", "$1"),)))
    await stand.until(lambda: any(tx.endswith("number-1") for tx in stand.connection.sent["!a"]))
    await stand.bring(SyncResult("2", (words("person", "$2"),)))
    held.set()
    await stand.delivery.idle()
    assert sum("number-" in tx for tx in stand.connection.sent["!a"]) == 1


@pytest.mark.parametrize("error", [RetryAfter(0.01), Refused("not here"), Transient("away")])
async def test_numbers_that_fail_hold_up_nothing(stand: Stand, error: Exception) -> None:
    real = stand.connection.send

    async def failing(room: str, kind: str, content: Any, tx: str) -> str:
        if kind == "m.reaction":
            raise error
        return await real(room, kind, content, tx)

    stand.connection.send = failing  # type: ignore[method-assign]
    await stand.bring(SyncResult("1", (words("9 sprockets", "$1"),)))
    await stand.bring(SyncResult("2", (words("person", "$2"),)))
    assert "person" in stand.texts()[-1].lower()
    assert stand.delivery.counts.retried == 0


async def test_an_invitation_is_tried_again_and_followed_once(stand: Stand) -> None:
    stand.connection.fates["join"].extend([MatrixAway("away"), MatrixAway("away")])
    invite = Invite("!b", ADA, True)
    stand.connection.known["!b"] = Room("!b", "!b", direct=True, encrypted=False)
    await stand.bring(SyncResult("1", invites=(invite, invite)))
    await stand.until(lambda: stand.connection.sent["!b"] and not stand.channel._joining)
    await stand.bring(SyncResult("2", invites=(invite,)))
    await stand.until(lambda: stand.connection.asked.count(("join", "!b")) == 4)
    await stand.delivery.idle()
    assert len(stand.connection.messages("!b", "m.text")) == 1


async def test_an_invitation_that_a_crash_cut_off_is_followed_at_the_next_start(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The server tells it no more once the bot is in the room."""
    inside = asyncio.Event()

    async def held_up(room: str, via: str = "") -> bool:
        inside.set()
        await asyncio.sleep(60)
        return True

    monkeypatch.setattr(stand.connection, "join", held_up)
    await stand.bring(SyncResult("1", invites=(Invite("!b", ADA, True),)))
    await asyncio.wait_for(inside.wait(), 60)
    for greeted in (1, 0):
        connection = RecordedConnection()
        connection.known["!a"] = ROOM
        connection.known["!b"] = Room("!b", "!b", direct=True, encrypted=False)
        other = Matrix(shipped_guide(), stand.delivery, connection)
        await other.open()
        await stand.delivery.serve(other)
        running = asyncio.create_task(other.run())
        connection.bring(SyncResult("2", (words("9 sprockets", "$1"),)))
        await stand.until(lambda there=connection: len(there.synced_from) > 1)  # type: ignore[misc]
        await stand.delivery.idle()
        assert len(connection.messages("!b", "m.text")) == greeted
        assert bool(connection.messages("!b")) == bool(greeted), "nor do numbers go to who is not greeted"
        other.stop()
        await running
        await other.close()


async def test_in_a_room_of_several_nobody_is_greeted(stand: Stand) -> None:
    stand.connection.known["!b"] = Room("!b", "!b", direct=False, encrypted=False)
    await stand.bring(SyncResult("1", invites=(Invite("!b", ADA, False),)))
    await stand.until(lambda: ("join", "!b") in stand.connection.asked)
    await stand.delivery.idle()
    assert stand.connection.messages("!b") == []


async def test_an_empty_room_is_left_once(stand: Stand) -> None:
    stand.connection.people["!a"] = 1
    await stand.bring(SyncResult("1"), SyncResult("2"), SyncResult("3"))
    await stand.until(lambda: ("leave", "!a") in stand.connection.asked)
    assert stand.connection.asked.count(("leave", "!a")) == 1


async def test_before_there_is_a_connection_messages_wait(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(channel, "OPEN_WITHIN", 0.01)
    stand = Stand(tmp_path)
    async with stand.delivery:
        await stand.channel.open()
        with pytest.raises(Transient):
            await stand.channel.fetch({"url": "mxc://a/b"}, 10)
    stand.store.close()
