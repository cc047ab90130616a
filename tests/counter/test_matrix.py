"""On Matrix nobody is staff but in a direct room and under an account of their own."""

import re
from datetime import UTC, datetime

import pytest

from triagebot.channels.matrix.reading import Reader
from triagebot.channels.matrix.seen import Room, Seen
from triagebot.messages import Arrived, Said

BOT, ADA, BRIDGE = "@wheels:shop.test", "@ada:shop.test", "@bridge:shop.test"
AT = datetime(2026, 3, 2, 10, tzinfo=UTC)
DIRECT, GROUP = Room("!direct", "!direct", True, False), Room("!group", "!group", False, False)


@pytest.fixture
def reader() -> Reader:
    return Reader(BOT, "Wheel Bot", "en", ("en",), {BRIDGE: re.compile(r"<(?P<name>[^>:]{1,64})>:? ")})


def private(reader: Reader, seen: Seen) -> bool:
    (incoming,) = reader.read(seen)
    return incoming.private


def test_a_direct_room_is_private_and_no_other_is(reader: Reader) -> None:
    assert private(reader, Seen("words", "$1", DIRECT, ADA, AT, "BCDF"))
    assert not private(reader, Seen("words", "$2", GROUP, ADA, AT, "BCDF", mentions_us=True))


def test_a_name_behind_a_bridge_proves_nothing(reader: Reader) -> None:
    """A person who is on the other side may call themselves what one of the staff is called."""
    (incoming,) = reader.read(Seen("words", "$1", DIRECT, BRIDGE, AT, "<Ada> BCDF"))
    assert incoming.content == Said("BCDF")
    assert not incoming.private


def test_what_follows_start_is_a_secret_unless_it_is_a_case(reader: Reader) -> None:
    def content(text: str, number: int) -> object:
        (incoming,) = reader.read(Seen("words", f"${number}", DIRECT, ADA, AT, text))
        return incoming.content

    assert content("!start BCDF-GHJK", 1) == Arrived(secret="BCDF-GHJK")
    assert content("!start K7M-4QX", 2) == Arrived(code="K7M-4QX")
    assert content("!start new", 3) == Arrived(new=True)
