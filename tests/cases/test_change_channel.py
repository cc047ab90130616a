"""A case is gone on with on another channel once its owner has said yes on theirs, and never by the code alone."""

from collections.abc import Callable

import pytest

from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from tests.words import words_of
from triagebot.cases.change_channel import MOST
from triagebot.conversation import Message
from triagebot.conversation.events import Remarked
from triagebot.delivery import WaitingClient
from triagebot.messages import Commanded, Pressed, new_code
from triagebot.messages.codes import named_code
from triagebot.turns.in_hand import GUESSES

A, B = "a", "b"


@pytest.fixture
def codes() -> Callable[[], str]:
    """As they are given out."""
    return new_code


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("K7M-4QX", "K7M-4QX"),
        ("k7m-4qx.", "K7M-4QX"),
        ("my code is k7m 4qx", "K7M-4QX"),
        ("code: K7M4QX", "K7M-4QX"),
        ("my case K7M-4QX", "K7M-4QX"),
        ("K7M4QX", None),
        ("can not", None),
        ("it has 12-spl", None),
        ("24-25", None),
        ("my case", None),
        ("a code", None),
        ("K7M-4QX has 12 splines", None),
    ],
)
def test_what_names_a_code(text: str, code: str | None) -> None:
    assert named_code(text, "en") == code


def code_of(office: Office, who: str) -> str:
    held = office.held(who)
    assert held is not None
    return held.case.code


def begun(office: Office, channel: RecordedChannel) -> str:
    office.bring(A, "9 sprockets")
    return code_of(office, A)


@pytest.mark.parametrize("yes", ["yes", "press", Commanded("move")])
def test_after_a_yes_both_go_on_with_the_same_case(office: Office, channel: RecordedChannel, yes: object) -> None:
    code = begun(office, channel)
    office.bring(B, code)
    texts = office.guide.language("en").texts
    assert words_of(channel.last(B).reply) == texts("move-asked")
    asked = channel.last(A)
    assert [choice.id for choice in asked.reply.offers] == ["move", "stay"]
    office.bring(A, Pressed(asked.case, asked.turn, "move") if yes == "press" else yes)  # type: ignore[arg-type]
    assert words_of(channel.last(A).reply) == texts("moved")
    there = channel.last(B)
    assert words_of(there.reply).startswith(texts("moved-here"))
    assert there.reply.question is not None
    assert code_of(office, B) == code
    office.bring(B, "it stays still")
    office.bring(A, "why")
    assert "the middle stays still" in words_of(channel.last(A).reply)
    assert "9 sprockets" in words_of(channel.last(A).reply)


def test_a_no_lets_nobody_in(office: Office, channel: RecordedChannel) -> None:
    code = begun(office, channel)
    office.bring(B, code)
    office.bring(A, "no")
    assert words_of(channel.last(A).reply).startswith(office.guide.language("en").texts("stayed"))
    assert channel.last(A).reply.question is not None
    assert office.held(B) is None
    office.bring(A, "yes")
    assert office.held(B) is None, "a later yes is about something else"


def test_a_yes_to_something_else_lets_nobody_in(office: Office, channel: RecordedChannel) -> None:
    code = begun(office, channel)
    office.bring(B, code)
    asked = channel.last(A)
    office.bring(A, "it stays still")
    office.bring(A, "yes")
    office.bring(A, Pressed(asked.case, asked.turn, "move"))
    office.bring(A, Commanded("move"))
    assert office.held(B) is None


@pytest.mark.parametrize("yes", ["yes", "press", Commanded("move")])
def test_an_ask_is_over_after_a_while(office: Office, channel: RecordedChannel, yes: object) -> None:
    code = begun(office, channel)
    office.bring(B, code)
    told = len(channel.screens[B])
    asked, texts = channel.last(A), office.guide.language("en").texts
    office.clock.wait(minutes=16)
    office.bring(A, Pressed(asked.case, asked.turn, "move") if yes == "press" else yes)  # type: ignore[arg-type]
    assert office.held(B) is None
    assert words_of(channel.last(A).reply).startswith(texts("move-over"))
    assert channel.last(A).reply.question is not None
    assert len(channel.screens[B]) == told
    office.bring(B, code)
    office.bring(A, "yes")
    assert words_of(channel.last(A).reply) == texts("moved")
    assert code_of(office, B) == code, "named once more, it is asked once more"


def test_a_person_who_is_not_reached_is_asked_nothing_and_lets_nobody_in(
    office: Office, channel: RecordedChannel
) -> None:
    """In a terminal nothing is said to anybody who has said nothing: a yes there answers the question that is open."""
    waiting_client = WaitingClient(office.guide, office.store.store, office.clock, new_code)
    case = waiting_client.hear("terminal:me", Message("9 sprockets"), "en").case
    office.bring(B, case.code)
    assert words_of(channel.last(B).reply) == office.guide.language("en").texts("move-asked")
    heard = waiting_client.hear("terminal:me", Message("yes"), "en")
    assert not {"move", "moved"} & {event.what for event in heard.case.events if isinstance(event, Remarked)}
    assert office.held(B) is None


def test_a_code_that_is_none_gets_the_same_words(office: Office, channel: RecordedChannel) -> None:
    code = begun(office, channel)
    office.bring(B, code)
    known = channel.last(B).reply
    office.bring("c", "ZZZ-ZZZ")
    assert channel.last("c").reply == known
    office.bring(B, "8 sprockets")
    office.bring(B, "ZZZ-ZZZ")
    assert words_of(channel.last(B).reply).startswith(words_of(known))
    assert channel.last(B).reply.question is not None


def test_nobody_is_asked_again_and_again(office: Office, channel: RecordedChannel) -> None:
    code = begun(office, channel)
    for _ in range(7):
        office.bring(B, code)
    assert len([message for message in channel.screens[A] if message.reply.offers]) == MOST


def test_a_person_who_takes_part_goes_back_by_the_code(office: Office, channel: RecordedChannel) -> None:
    code = begun(office, channel)
    office.bring(A, "restart")
    office.bring(B, code)
    office.bring(A, "yes")
    other = office.bring(B, Commanded("help"))
    assert other.case is not None
    office.bring("c", "7 sprockets")
    office.bring("c", code)
    office.bring(A, "yes")
    assert code_of(office, "c") == code
    office.bring("c", code.lower())
    assert code_of(office, "c") == code


def test_forgetting_takes_the_case_from_both(office: Office, channel: RecordedChannel) -> None:
    code = begun(office, channel)
    office.bring(B, code)
    office.bring(A, "yes")
    office.bring(B, Commanded("forget"))
    office.bring(B, "yes")
    assert office.held(A) is None
    assert office.held(B) is None


def test_a_yes_lets_in_only_whom_it_was_asked_about(office: Office, channel: RecordedChannel) -> None:
    """Somebody who has overheard the code names it while the owner moves."""
    code = begun(office, channel)
    office.bring(B, code)
    asked = len(channel.screens[A])
    office.bring("eavesdropper", code)
    assert len(channel.screens[A]) == asked, "one question at a time"
    office.bring(A, "yes")
    assert code_of(office, B) == code
    assert office.held("eavesdropper") is None


def test_who_guesses_codes_is_soon_asking_nobody(office: Office, channel: RecordedChannel) -> None:
    """And is told the same, so that a guess tells nothing."""
    code = begun(office, channel)
    heard = channel.texts(A)
    for _ in range(int(GUESSES.burst)):
        office.bring(B, new_code())
    assert channel.texts(A) == heard
    office.bring(B, code)
    assert words_of(channel.last(B).reply) == office.guide.language("en").texts("move-asked")
    assert channel.texts(A) == heard
    office.bring("c", code)  # somebody else may
    assert len(channel.texts(A)) == len(heard) + 1
