"""How the two are spoken to in a case that was opened for somebody else."""

from dataclasses import replace

import pytest

from tests.words import words_of
from triagebot.conversation import Case, Guide, Message, Turn, follow, open_case, plain, turn
from triagebot.conversation.events import Answered, Remarked
from triagebot.conversation.mentoring import (
    MENTOR,
    RIDER,
    asked_of,
    copy,
    found,
    helping,
    is_news,
    labelled,
    summary,
    to_mentor,
    who_said,
)
from triagebot.conversation.reply import plain_of
from triagebot.testing import START
from triagebot.topics import Texts

NAME = "the blue commuter"


@pytest.fixture
def begun(guide: Guide) -> Case:
    case = open_case(guide, "AAA-001", "en", START)
    return follow(case, helping(case))


@pytest.fixture
def texts(guide: Guide) -> Texts:
    return guide.language("en").texts


def says(guide: Guide, case: Case, text: str, by: str) -> Turn:
    taken = turn(guide, case, Message(text), START)
    events = labelled(taken.events, by)
    before = taken.case.events[: len(taken.case.events) - len(events)]
    return replace(taken, events=events, case=replace(taken.case, events=(*before, *events)))


def test_what_is_opened_for_somebody_else_says_so_for_good(guide: Guide, begun: Case) -> None:
    assert not open_case(guide, "AAA-001", "en", START).for_a_rider
    assert begun.for_a_rider
    assert says(guide, begun, "restart", MENTOR).case.for_a_rider
    ordinary = says(guide, open_case(guide, "AAA-001", "en", START), "12 splines", "person").case
    assert not ordinary.for_a_rider


def test_who_said_what_is_told_where_both_have(guide: Guide, begun: Case, texts: Texts) -> None:
    case = says(guide, begun, "it stays still", MENTOR).case
    assert who_said(guide, texts, case) == ""
    case = says(guide, case, "4 notches", RIDER).case
    told = who_said(guide, texts, case)
    assert told.splitlines()[1] == texts("mentor-said-mentor", clauses="the middle stays still")
    assert "the count is 4" in told.splitlines()[0]
    corrected = says(guide, case, "no, it is 2 notches", MENTOR).case
    assert "the count is 2" in plain_of(summary(guide, corrected))
    assert "the count is 4" not in plain_of(summary(guide, corrected))
    assert [event.by for event in corrected.events if isinstance(event, Answered)] == [MENTOR, RIDER, MENTOR]


def test_a_question_comes_with_its_picture_to_send_on(guide: Guide, begun: Case, texts: Texts) -> None:
    taken = says(guide, begun, "it stays still, 9 sprockets", MENTOR)
    question = taken.reply.question
    assert question is not None
    reply = to_mentor(guide, taken.case, NAME, taken.reply, joined=False, ended=False)
    assert reply.forward is not None
    assert reply.forward.picture == question.picture is not None
    assert reply.shows is None
    assert plain_of(reply.forward.blocks).startswith(question.text)
    assert reply.question is not None
    assert reply.question.choices == question.choices
    text = plain(reply)
    assert all(text.count(choice.label) == 1 for choice in question.choices)


def test_how_to_check_is_sent_on_instead_of_the_question(guide: Guide, begun: Case, texts: Texts) -> None:
    case = says(guide, begun, "it stays still", MENTOR).case
    taken = says(guide, case, "how do I check?", MENTOR)
    assert taken.reply.question is not None
    how = texts(f"question-{taken.reply.question.id}.how")
    reply = to_mentor(guide, taken.case, NAME, taken.reply, joined=False, ended=False)
    assert reply.forward is not None
    assert plain_of(reply.forward.blocks) == how
    assert plain(reply).count(how) == 2


def test_what_is_asked_back_is_not_sent_on(guide: Guide, begun: Case) -> None:
    taken = says(guide, begun, "12 splines, 2.3 wide", MENTOR)
    assert taken.case.now.puzzle is not None
    reply = to_mentor(guide, taken.case, NAME, taken.reply, joined=False, ended=False)
    assert reply.forward is None
    assert words_of(taken.reply) == words_of(reply)


def test_a_copy_is_short(guide: Guide, begun: Case, texts: Texts) -> None:
    taken = says(guide, begun, "x" * 5000 + " 9 sprockets, it turns", RIDER)
    reply = copy(guide, taken.case, NAME, "x" * 5000, taken.reply, ended=False)
    assert len(words_of(reply)) < 700
    assert NAME in words_of(reply)


def test_two_kinds_that_still_fit_are_both_summed_up(guide: Guide, begun: Case, texts: Texts) -> None:
    """A width between the two, no maker's name, and a body that nobody can see: the shipped look-alikes."""
    case = says(
        guide, begun, "it turns, 12 splines, 22.6 mm by calliper, 10 cogs, no idea about the maker", MENTOR
    ).case
    for _ in range(8):
        if case.now.outcome is not None:
            break
        case = says(guide, case, "I don't know", MENTOR).case
    assert case.now.outcome == "look-alike"
    told = plain_of(summary(guide, case))
    assert found(guide, case) in told
    assert told.count(texts("direction-anticlockwise")) == 2
    assert texts("separating-check", check="x").splitlines()[0] in told


def test_small_talk_is_no_news(guide: Guide, begun: Case) -> None:
    answered = says(guide, begun, "it turns", RIDER)
    assert is_news(answered.events)
    assert not is_news(says(guide, answered.case, "thanks", RIDER).events)
    assert not is_news(says(guide, answered.case, "why", RIDER).events)
    assert is_news(says(guide, answered.case, "back", RIDER).events)


def test_who_was_asked_is_known(guide: Guide, begun: Case) -> None:
    case = says(guide, says(guide, begun, "it turns", RIDER).case, "forget me", MENTOR).case
    assert asked_of(case) == MENTOR
    assert asked_of(follow(case, Remarked(START, "meanwhile"))) == ""
