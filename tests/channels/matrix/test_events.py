"""What one event says, without a server: above all what nobody should send, and somebody will."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triagebot.channels.matrix.events import EventReader
from triagebot.channels.matrix.layout import Part, change, image, message
from triagebot.channels.matrix.seen import Room, Seen

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
ROOM = Room("!r:x", "!r:x", direct=False, encrypted=False)
READER = EventReader("@wheels:x", "Wheel Bot")


def event(content: Any, kind: str = "m.room.message", **more: Any) -> dict[str, Any]:
    stamp = int(NOW.timestamp() * 1000)
    return {
        "type": kind,
        "event_id": "$e",
        "sender": "@ada:x",
        "origin_server_ts": stamp,
        "content": content,
        **more,
    }


def read(content: Any, kind: str = "m.room.message", **more: Any) -> Seen | None:
    return READER.read(event(content, kind, **more), ROOM, "Ada", NOW)


def text(body: Any, **more: Any) -> dict[str, Any]:
    return {"msgtype": "m.text", "body": body, **more}


def the(seen: Seen | None) -> Seen:
    assert seen is not None
    return seen


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("m.text", ("words", "")),
        ("m.emote", ("words", "")),
        ("m.audio", ("thing", "audio")),
        ("m.video", ("thing", "video")),
        ("m.file", ("thing", "document")),
        ("m.location", ("thing", "location")),
        ("org.example.new", ("thing", "unknown")),
    ],
)
def test_types_of_messages(kind: str, expected: tuple[str, str]) -> None:
    seen = the(read({"msgtype": kind, "body": "x"}))
    assert (seen.kind, seen.what) == expected


@pytest.mark.parametrize("kind", ["m.notice", "m.server_notice", "m.key.verification.request"])
def test_nobody_sees_housekeeping(kind: str) -> None:
    assert read({"msgtype": kind, "body": "x"}) is None


def test_other_events_that_are_messages() -> None:
    assert the(read({"body": "x", "url": "mxc://x/y"}, "m.sticker")).what == "sticker"
    assert the(read({"org.matrix.msc3381.poll.start": {}}, "org.matrix.msc3381.poll.start")).what == "poll"
    assert read({"topic": "wheels"}, "m.room.topic", state_key="") is None


def test_who_comes_in() -> None:
    join = {"membership": "join"}
    assert the(read(join, "m.room.member", state_key="@ada:x")).kind == "joined"
    assert read({"membership": "leave"}, "m.room.member", state_key="@ada:x") is None
    assert read(join, "m.room.member", state_key="@ada:x", unsigned={"prev_content": join}) is None, "another name"
    voice = {"msgtype": "m.audio", "body": "x", "org.matrix.msc3245.voice": {}}
    assert the(read(voice)).what == "voice"


def test_what_was_taken_back_or_is_our_own_is_not_seen() -> None:
    assert read({}) is None
    assert read({}, "m.sticker") is None
    assert read(text("x"), sender="@wheels:x") is None


@pytest.mark.parametrize(
    ("body", "rest"),
    [
        ("> <@bot:x> How many?\n> One, two or three.\n\nthree", "three"),
        ("> <@bot:x> How many?\n>\n> One.\n\nthree\n> or four", "three\n> or four"),
        ("three", "three"),
        (">24 mm", ">24 mm"),
    ],
)
def test_the_quoted_text_of_a_reply_is_nobodys_words(body: str, rest: str) -> None:
    reply = {"m.in_reply_to": {"event_id": "$q"}}
    seen = the(read(text(body, **{"m.relates_to": reply})))
    assert (seen.text, seen.answers) == (rest, "$q")
    assert the(read(text(body))).text == body, "without being a reply all of it is"


def test_in_a_thread_what_is_only_there_for_old_clients_is_no_answer() -> None:
    thread = {"rel_type": "m.thread", "event_id": "$t", "m.in_reply_to": {"event_id": "$q"}}
    for falling_back, answers in ((True, ""), (False, "$q")):
        seen = the(read(text("x", **{"m.relates_to": {**thread, "is_falling_back": falling_back}})))
        assert (seen.thread, seen.answers) == ("$t", answers)


def test_a_correction_says_what_it_corrects() -> None:
    relation = {"rel_type": "m.replace", "event_id": "$old"}
    seen = the(read({**text("* four"), "m.new_content": text("four"), "m.relates_to": relation}))
    assert (seen.kind, seen.text, seen.about) == ("correction", "four", "$old")
    for new in (None, 5, [], {"msgtype": "m.notice", "body": "four"}):
        assert read({**text("* four"), "m.new_content": new, "m.relates_to": relation}) is None


def test_a_caption_is_what_was_written_beside_the_name_of_the_file() -> None:
    picture = {"msgtype": "m.image", "body": "hub.png", "url": "mxc://x/y"}
    assert (the(read(picture)).text, the(read(picture)).file) == ("", {"url": "mxc://x/y"})
    assert the(read({**picture, "filename": "hub.png"})).text == ""
    assert the(read({**picture, "filename": "hub.png", "body": "is this it?"})).text == "is this it?"
    sealed = {"url": "mxc://x/y", "key": {"k": "x"}, "iv": "i", "hashes": {"sha256": "h"}, "v": "v2", "more": 1}
    seen = the(read({"msgtype": "m.image", "body": "hub.png", "file": sealed}))
    assert seen.file == {name: value for name, value in sealed.items() if name != "more"}
    assert the(read({"msgtype": "m.image", "body": "nowhere"})).kind == "thing"


@pytest.mark.parametrize(
    ("content", "mentioned"),
    [
        (text("hello", **{"m.mentions": {"user_ids": ["@wheels:x"]}}), True),
        (text("hello", **{"m.mentions": {"user_ids": ["@other:x"]}}), False),
        (text("Wheel Bot: four"), True),
        (text("wheel bot, four"), True),
        (text("@wheels four"), True),
        (text("@wheels:x four"), True),
        (text("four", formatted_body='<a href="https://matrix.to/#/@wheels:x">Bot</a> four'), True),
        (text("cartwheels are fun"), False),
        (text("four", **{"m.mentions": {"user_ids": 5}}), False),
    ],
)
def test_who_is_mentioned(content: dict[str, Any], mentioned: bool) -> None:
    assert the(read(content)).mentions_us is mentioned


def test_no_event_is_from_the_future() -> None:
    later = int((NOW + timedelta(days=400)).timestamp() * 1000)
    for stamp in (later, 10**30, -5, "x", None):
        assert the(read(text("x"), origin_server_ts=stamp)).at <= NOW


def test_what_is_locked_is_told_with_its_place() -> None:
    sealed = {"ciphertext": "x", "session_id": "s", "m.relates_to": {"rel_type": "m.thread", "event_id": "$t"}}
    seen = the(READER.undecryptable(event(sealed, "m.room.encrypted"), ROOM, "Ada", NOW))
    assert (seen.kind, seen.thread, seen.what, seen.text) == ("undecryptable", "$t", "s", "")


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
_NAMES = st.sampled_from(
    ["msgtype", "body", "m.relates_to", "m.new_content", "m.mentions", "url", "file", "filename", "formatted_body"]
)
_VALUES = (
    _JSON
    | st.sampled_from(["m.text", "m.image", "m.audio"])
    | st.dictionaries(
        st.sampled_from(["rel_type", "event_id", "key", "m.in_reply_to", "msgtype", "body", "user_ids", "url"]),
        _JSON | st.sampled_from(["m.replace", "m.thread", "m.annotation"]),
    )
)


@given(
    st.dictionaries(_NAMES, _VALUES) | _JSON,
    st.sampled_from(["m.room.message", "m.reaction", "m.sticker", "m.poll.start", "m.room.encrypted"]),
)
def test_whatever_somebody_sends_is_read_or_passed_over(content: Any, kind: str) -> None:
    for reading in (READER.read, READER.undecryptable):
        seen = reading(event(content, kind), ROOM, "Ada", NOW)
        assert seen is None or (isinstance(seen.text, str) and isinstance(seen.about, str))


def test_what_another_of_its_kind_says_is_left_out() -> None:
    said = message(Part("How many sprockets are there?"), {})
    changed = change(Part("How many sprockets are there? ✓ 9"), "$before")
    shown = image(Part("This is what to look at"), {"url": "mxc://x/picture"}, {}, {})
    for content in (said, changed, shown):
        assert read(content) is None
