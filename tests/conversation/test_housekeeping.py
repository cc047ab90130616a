"""What is asked about the conversation itself: a plain yes or no is about that, and everything else goes on."""

from collections.abc import Sequence
from datetime import UTC, datetime

import pytest

from tests.conversation.guides import shipped_guide
from tests.words import words_of
from triagebot.conversation import Case, Event, Message, Turn, open_case, turn
from triagebot.conversation.events import Remarked

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def erases(events: Sequence[Event]) -> bool:
    """Whether a turn that made these events ends in everything being deleted."""
    return isinstance(events[-1], Remarked) and events[-1].what == "erase"


def said(case: Case, *texts: str) -> Turn:
    for text in texts:
        taken = turn(shipped_guide(), case, Message(text), NOW)
        case = taken.case
    return taken


@pytest.fixture
def case() -> Case:
    return said(open_case(shipped_guide(), "AAA-BBB", "en", NOW), "9 sprockets").case


@pytest.mark.parametrize("sure", ["yes", "yes, delete it", "delete everything"])
def test_being_forgotten_takes_a_yes(case: Case, sure: str) -> None:
    asked = said(case, "forget me")
    assert [choice.id for choice in asked.reply.offers] == ["erase", "keep"]
    assert asked.reply.question is None
    assert not erases(asked.events)
    assert erases(said(asked.case, sure).events)


@pytest.mark.parametrize("words", ["no", "keep it", "no, keep it"])
def test_a_no_keeps_everything_and_answers_no_question(case: Case, words: str) -> None:
    kept = said(case, "forget me", words)
    assert not erases(kept.events)
    assert kept.case.now == case.now
    assert kept.reply.question is not None
    assert words_of(kept.reply).startswith("All right, I haven’t deleted anything.")


def test_an_answer_in_between_goes_on_and_then_a_yes_deletes_nothing(case: Case) -> None:
    taken = said(case, "forget me", "it stays still")
    assert "spin" in {reading.question for reading in taken.case.now.readings}
    assert not erases(said(taken.case, "yes").events)


def test_deleting_is_asked_back_however_it_is_said(case: Case) -> None:
    taken = said(case, "delete everything")
    assert not erases(taken.events)
    assert [choice.id for choice in taken.reply.offers] == ["erase", "keep"]


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ("my code", "AAA-BBB"),
        ("privacy", "forget me"),
        ("what do you know about me", "forget me"),
        ("language", "English"),
    ],
)
def test_what_is_asked_is_answered_and_the_question_stays_open(case: Case, words: str, part: str) -> None:
    taken = said(case, words)
    assert part in words_of(taken.reply)
    assert taken.case.now == case.now
    assert taken.reply.question is not None


def test_forget_that_is_a_step_back_and_forgets_nobody(case: Case) -> None:
    taken = said(case, "forget that")
    assert taken.reply.offers == ()
    assert taken.case.now.readings == ()
