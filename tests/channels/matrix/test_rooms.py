"""Where the bot stands, without a server."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from triagebot.channels.matrix.rooms import (
    KEPT_FOR,
    MOST_CHARACTERS,
    MOST_KEPT,
    Position,
    Undecryptable,
    lacks_power,
    position,
    predecessor,
    room_of,
    still_kept,
    tombstone,
    while_inside,
)

ME = "@wheels:x"
NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


def member(membership: str, before: str = "") -> dict[str, Any]:
    unsigned = {"prev_content": {"membership": before}} if before else {}
    content = {"membership": membership}
    return {"type": "m.room.member", "state_key": ME, "content": content, "unsigned": unsigned}


def said(text: str) -> dict[str, Any]:
    return {"type": "m.room.message", "content": {"body": text}}


def bodies(events: Any) -> list[str]:
    return [raw["content"]["body"] for raw in events if raw["type"] == "m.room.message"]


def test_only_what_happens_while_the_bot_is_there_is_seen() -> None:
    visit = [said("a"), member("invite"), member("join", "invite"), said("b"), member("leave", "join"), said("c")]
    assert bodies(while_inside(visit, False, ME)) == ["b"]
    assert bodies(while_inside(visit, True, ME)) == ["a", "b"]
    assert bodies(while_inside([*visit, member("join"), said("d")], False, ME)) == ["d"], "a, b: an earlier visit"
    assert bodies(while_inside([*visit, member("join"), said("d")], True, ME)) == ["a", "b", "d"]
    assert bodies(while_inside([said("a"), member("join", "join"), said("b")], True, ME)) == ["a", "b"]
    assert bodies(while_inside([said("a"), member("join", "join"), said("b")], False, ME)) == []


def test_a_place_is_read_as_it_was_written() -> None:
    before = Position("s1", {"!a": "!0"}, {"!0": "!a"}, (Undecryptable("!a", {"event_id": "$e"}),))
    assert position(before.place()) == before
    assert position(None) == position("") == Position()


def test_what_is_sent_to_an_old_room_goes_to_the_latest_that_the_bot_is_in() -> None:
    now = Position("s", {"!a": "!a", "!b": "!a", "!c": "!a"}, {"!a": "!b", "!b": "!c", "!c": "!d"})
    assert [now.latest(room) for room in ("!a", "!b", "!c", "!x")] == ["!c", "!c", "!c", "!x"]
    assert now.awaited() == (("!c", "!d"),)
    circle = Position("s", {"!a": "!a", "!b": "!a"}, {"!a": "!b", "!b": "!a"})
    assert circle.latest("!a") == "!b"


def undecryptable(number: int, at: datetime, size: int = 1) -> Undecryptable:
    return Undecryptable("!a", {"event_id": number, "origin_server_ts": int(at.timestamp() * 1000), "x": "x" * size})


def test_of_what_cannot_be_read_the_latest_is_kept_for_some_days() -> None:
    many = [undecryptable(number, NOW) for number in range(MOST_KEPT + 5)]
    assert still_kept(many, NOW) == tuple(many[5:])
    old = undecryptable(0, NOW - KEPT_FOR - timedelta(seconds=1))
    assert still_kept([old, many[0]], NOW) == (many[0],)
    large = [undecryptable(number, NOW, MOST_CHARACTERS // 3) for number in range(5)]
    assert still_kept(large, NOW) == tuple(large[-2:])


def test_who_makes_a_room_direct() -> None:
    def direct(*others: str) -> bool:
        return room_of("!a", "!a", {ME, *others}, False, ME, {"@bridge:x"}).direct

    assert direct("@ada:x")
    assert direct("@ada:x", "@bridge:x")
    assert not direct("@ada:x", "@bob:x")
    assert not direct("@bridge:x"), "many people may be behind it"
    assert not direct()


def test_both_rooms_say_that_one_has_taken_the_place_of_the_other() -> None:
    state = {"state_key": "", "sender": "@ada:x"}
    tomb = {"type": "m.room.tombstone", **state, "content": {"replacement_room": "!new"}}
    assert tombstone([said("a"), tomb]) == ("!new", "@ada:x")
    for content in ({}, {"replacement_room": 5}, {"replacement_room": "new"}, None):
        assert tombstone([{**tomb, "content": content}]) is None
    assert tombstone([{**tomb, "state_key": "x"}]) is None
    create = {"type": "m.room.create", **state, "content": {"predecessor": {"room_id": "!old"}}}
    assert predecessor([create]) == "!old"
    assert predecessor([{**create, "content": {"predecessor": "!old"}}]) == predecessor([]) == ""


@pytest.mark.parametrize(
    ("levels", "lacks"),
    [
        ({}, False),
        ({"events_default": 50}, True),
        ({"events_default": 50, "users_default": 50}, False),
        ({"events_default": 50, "users": {ME: 50}}, False),
        ({"events": {"m.room.message": 50}, "users": {ME: 49}}, True),
        ({"events": {"m.room.encrypted": 50}}, False),
        ({"events_default": "50", "users": [ME]}, False),
    ],
)
def test_who_lacks_the_power_to_speak(levels: dict[str, Any], lacks: bool) -> None:
    assert lacks_power(levels, ME, "m.room.message") is lacks


def test_who_is_alone_with_the_bot_while_others_are_only_invited() -> None:
    def alone(*others: str, invited: tuple[str, ...] = ()) -> str:
        return room_of("!a", "!a", {ME, *others}, False, ME, {"@bridge:x"}, invited).alone

    assert alone("@ada:x", "@bridge:x") == "@ada:x"
    assert alone("@ada:x", "@bob:x", invited=("@bob:x",)) == "@ada:x"
    assert alone("@ada:x", "@bob:x") == ""
    assert alone() == ""
