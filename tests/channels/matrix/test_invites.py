"""Who may call the bot into a room, and how often."""

import pytest

from triagebot.channels.matrix.invites import Invitations
from triagebot.channels.polling import MOST_SAID, SAID_AGAIN

BOT, ADA, BOB = "@wheels:shop.test", "@ada:shop.test", "@bob:far.test"


class Hand:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.mark.parametrize(
    ("allow", "who", "allowed"),
    [
        ((), ADA, True),
        ((), BOB, False),
        ((), "@bob:far.test:shop.test", False),
        (("far.test",), BOB, True),
        (("far.test",), ADA, False),
        ((BOB,), BOB, True),
        ((BOB,), "@rob:far.test", False),
        (("*",), BOB, True),
        (("shop.test:8448",), "@ada:shop.test:8448", True),
        ((), "nobody", False),
        ((), "", False),
    ],
)
def test_who_may_invite(allow: tuple[str, ...], who: str, allowed: bool) -> None:
    assert Invitations(BOT, allow).allowed(who) is allowed


def test_not_too_many_of_one_person_in_a_short_time() -> None:
    clock = Hand()
    invitations = Invitations(BOT, ("*",), clock)
    assert [invitations.declined(ADA) for _ in range(5)] == [""] * 5
    assert invitations.declined(ADA) == "too many in a short time"
    assert invitations.declined(BOB) == "", "others are none the worse for it"
    clock.now += 601
    assert invitations.declined(ADA) == ""


def test_not_too_many_of_everybody_together() -> None:
    clock = Hand()
    invitations = Invitations(BOT, ("*",), clock)
    assert [invitations.declined(f"@p{n}:far.test") for n in range(60)] == [""] * 60
    assert invitations.declined(ADA) == "too many in a short time"
    clock.now += 601
    assert invitations.declined(ADA) == ""
    assert len(invitations._each) == 1, "nobody is remembered for longer than that"


def test_what_is_declined_is_told_once_a_server_and_names_nobody() -> None:
    clock = Hand()
    invitations = Invitations(BOT, (), clock)
    why = invitations.declined(BOB)
    assert "far.test" in why
    assert "bob" not in why
    assert [invitations.to_log(who, why) for who in (BOB, "@rob:far.test")] == [True, False]
    clock.now += SAID_AGAIN + 1
    assert invitations.to_log(BOB, why)


def test_a_thousand_servers_do_not_fill_the_log() -> None:
    invitations = Invitations(BOT, ())
    told = [invitations.to_log(f"@x:s{n}.test", "why") for n in range(1000)]
    assert sum(told) == MOST_SAID
