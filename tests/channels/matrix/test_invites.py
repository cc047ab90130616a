"""Who may call the bot into a room, and how often."""

import pytest

from triagebot.channels.matrix.invites import SERVER, Declined, Invitations
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
    assert [invitations.declined(ADA) for _ in range(5)] == [None] * 5
    assert invitations.declined(ADA) == Declined("too many in a short time", "matrix-declined-often")
    assert invitations.declined(BOB) is None, "others are none the worse for it"
    clock.now += 601
    assert invitations.declined(ADA) is None


def test_a_dozen_who_invite_all_they_may_shut_nobody_out() -> None:
    invitations = Invitations(BOT, ("*",), Hand())
    for number in range(12):
        assert [invitations.declined(f"@p{number}:far.test") for _ in range(5)] == [None] * 5
    assert invitations.declined(BOB) is None, "of their own server"
    assert invitations.declined(ADA) is None


def test_a_server_of_many_people_shuts_out_nobody_elses() -> None:
    clock = Hand()
    invitations = Invitations(BOT, ("*",), clock)
    most = int(SERVER.burst)
    assert [invitations.declined(f"@p{n}:far.test") for n in range(most)] == [None] * most
    assert invitations.declined(BOB) is not None
    assert invitations.declined(ADA) is None
    clock.now += 601
    assert invitations.declined(BOB) is None
    assert len(invitations._each) == 1, "nobody is remembered for longer than that"


def test_what_is_declined_is_told_once_a_server_and_names_nobody() -> None:
    clock = Hand()
    invitations = Invitations(BOT, (), clock)
    declined = invitations.declined(BOB)
    assert declined is not None
    why = declined.why
    assert "far.test" in why
    assert "bob" not in why
    assert [invitations.to_log(who, why) for who in (BOB, "@rob:far.test")] == [True, False]
    clock.now += SAID_AGAIN + 1
    assert invitations.to_log(BOB, why)


def test_a_thousand_servers_do_not_fill_the_log() -> None:
    invitations = Invitations(BOT, ())
    told = [invitations.to_log(f"@x:s{n}.test", "why") for n in range(1000)]
    assert sum(told) == MOST_SAID
