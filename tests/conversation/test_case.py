"""What an answer does to what was known, and in which states of the machine that leaves a conversation."""

from datetime import UTC, datetime

import pytest

from triagebot.conversation import Case, Event, Fact, Puzzle, fold_events
from triagebot.conversation.events import (
    Answered,
    Asked,
    Closed,
    Concluded,
    Handed,
    Listed,
    Opened,
    Puzzled,
    Remarked,
    Restarted,
    Returned,
    Spoke,
    Undid,
    Withdrew,
)
from triagebot.conversation.machine import CHOOSING, CONFIRMING, HANDED
from triagebot.identify import BoundReading, ChoiceReading, Reading, SizeReading

AT = datetime(2026, 3, 2, 10, tzinfo=UTC)
OPENED = Opened(AT, "AAA-001", "rear-sprockets", "abc", "en", "begin")
ASKED = Asked(AT, "size", "ask-size")
ANSWERED = Concluded(AT, "answer", "answered", named=("freewheel-2-notch",))
BESIDE = Asked(AT, "axle", "ask-axle", beside=True)
PUZZLED = Puzzled(AT, Puzzle("unit", "size", "2.3", SizeReading("size", 23.0)), "confirm")
FORGET, LANGUAGE, HELP = (Remarked(AT, what) for what in ("forget", "language", "help"))


def after(*events: Event) -> Case:
    return fold_events([OPENED, *events])


def told(*readings: Reading) -> Answered:
    return Answered(AT, tuple(Fact(reading, "") for reading in readings))


def known(*events: Event) -> tuple[Reading, ...]:
    return after(*events).now.readings


# --- what is known --------------------------------------------------------------------------------------------------

WIDER, NARROWER = BoundReading("size", low=20.0), BoundReading("size", high=25.0)
NO_NOTCHES, NO_SPLINES = (ChoiceReading("fitting", choice, denied=True) for choice in ("notches", "splines"))
SIZE, OTHER_SIZE = SizeReading("size", 22.0), SizeReading("size", 24.0)


def test_bounds_and_denials_add_up() -> None:
    assert known(told(WIDER), told(NARROWER)) == (WIDER, NARROWER)
    assert known(told(NO_NOTCHES), told(NO_SPLINES)) == (NO_NOTCHES, NO_SPLINES)


def test_a_value_beside_a_bound_leaves_the_bound_in_force() -> None:
    assert known(told(WIDER), told(SIZE)) == (WIDER, SIZE)
    assert known(told(SIZE), told(WIDER)) == (SIZE, WIDER)
    assert known(told(NO_NOTCHES), told(ChoiceReading("fitting", "splines")))[0] == NO_NOTCHES


def test_another_value_replaces_the_value_and_not_the_bound() -> None:
    assert known(told(WIDER), told(SIZE), told(OTHER_SIZE)) == (WIDER, OTHER_SIZE)
    assert known(told(SIZE), told(SIZE)) == (SIZE,)


def test_a_correction_replaces_all_and_a_second_answer_replaces_nothing() -> None:
    corrected = Answered(AT, (Fact(OTHER_SIZE, "", corrects=True),))
    assert known(told(WIDER, SIZE), corrected) == (OTHER_SIZE,)
    again = Asked(AT, "size", "ask-size", again=True)
    assert known(told(SIZE), again, told(SIZE)) == (SIZE, SIZE)
    assert known(told(SIZE), again, told(OTHER_SIZE)) == (SIZE, OTHER_SIZE)


# --- where it stands ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("events", "states"),
    [
        ((), ["begin"]),
        ((ASKED,), ["begin", "ask-size"]),
        ((ASKED, PUZZLED), ["begin", "ask-size", "confirm"]),
        ((ASKED, PUZZLED, told(SIZE)), ["begin", "ask-size"]),
        ((ASKED, ANSWERED), ["begin", "answered"]),
        ((ASKED, ANSWERED, BESIDE), ["begin", "answered", "ask-axle"]),
        ((ASKED, ANSWERED, BESIDE, ASKED), ["begin", "ask-size"]),
        ((ASKED, ANSWERED, BESIDE, Withdrew(AT, "size")), ["begin", "ask-axle"]),
        ((ASKED, Concluded(AT, "stopped", "stopped")), ["begin", "ask-size", "stopped"]),
        ((ASKED, Concluded(AT, "stopped", "stopped"), ASKED), ["begin", "ask-size"]),
        ((ASKED, Listed(AT)), ["begin", "ask-size", CHOOSING]),
        ((ASKED, Listed(AT), HELP), ["begin", "ask-size"]),
        ((ASKED, Listed(AT), ASKED), ["begin", "ask-size"]),
        ((ASKED, Listed(AT), Spoke(AT, "de")), ["begin", "ask-size", CHOOSING]),
        ((ASKED, FORGET), ["begin", "ask-size", CONFIRMING["forget"]]),
        ((ASKED, FORGET, LANGUAGE), ["begin", "ask-size", CONFIRMING["language"]]),
        ((ASKED, FORGET, HELP), ["begin", "ask-size"]),
        ((ASKED, FORGET, told(SIZE)), ["begin", "ask-size"]),
        ((FORGET, ASKED), ["begin", "ask-size", CONFIRMING["forget"]]),
        ((ASKED, FORGET, Closed(AT, None, None, "Ada")), ["begin", "ask-size", CONFIRMING["forget"]]),
        ((ASKED, FORGET, Handed(AT)), ["begin", "ask-size", HANDED, CONFIRMING["forget"]]),
        ((ASKED, FORGET, Handed(AT), HELP), ["begin", "ask-size", HANDED]),
        ((ASKED, Handed(AT), Handed(AT), Returned(AT)), ["begin", "ask-size"]),
        ((ASKED, Handed(AT), Closed(AT, None, None, "Ada")), ["begin", "ask-size"]),
        ((ASKED, Handed(AT), Restarted(AT, "begin")), ["begin"]),
    ],
)
def test_a_state_waits_beneath_those_that_came_upon_it(events: tuple[Event, ...], states: list[str]) -> None:
    case = after(*events)
    assert [place.id for place in case.now.places] == states
    assert case.now.state == states[-1]


def test_what_is_asked_what_was_reached_and_what_is_confirmed_follow_from_the_states() -> None:
    beside = after(ASKED, ANSWERED, BESIDE, FORGET).now
    assert (beside.outcome, beside.question, beside.confirming, beside.picking) == ("answer", "axle", "forget", False)
    stopped = after(ASKED, Concluded(AT, "stopped", "stopped"), Listed(AT)).now
    assert (stopped.outcome, stopped.question, stopped.confirming, stopped.picking) == ("stopped", "size", "", True)
    asked_back = after(Asked(AT, "size", "ask-size", again=True, doubted=True), PUZZLED).now
    assert (asked_back.puzzle, asked_back.again, asked_back.doubted) == (PUZZLED.puzzle, True, True)
    person = after(ASKED, Concluded(AT, "person", "with-a-person", "asked")).now
    assert (person.outcome, person.reason, person.question) == ("person", "asked", None)


def test_undo_gives_back_neither_a_passing_question_nor_the_case_of_a_member() -> None:
    undone = after(ASKED, Listed(AT), told(SIZE), Undid(AT))
    assert [place.id for place in undone.now.places] == ["begin", "ask-size"]
    handed = after(ASKED, told(SIZE), Handed(AT), Undid(AT))
    assert handed.handed
    assert not after(ASKED, Handed(AT), told(SIZE), Returned(AT), Undid(AT)).handed
