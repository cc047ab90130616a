"""What people do by their platform's own means: commands, captions, corrections, codes, and what they take away."""

import pytest

from tests.delivery.office import Office
from triagebot.conversation import Case
from triagebot.conversation.blocks import Question, Remark, Understood
from triagebot.messages import Arrived, Edited, Said, Sent

A = "a"
ONE_FILE = ({"file": "one"},)


def about(office: Office, content: object, **more: object) -> list[str]:
    """What the remarks of the reply are about."""
    made = office.bring(A, content, **more)  # type: ignore[arg-type]
    return [] if made.reply is None else [block.about for block in made.reply.of(Remark)]


def case(office: Office) -> Case:
    held = office.held(A)
    assert held is not None
    return held.case


def told(office: Office) -> set[str]:
    return {fact.reading.question for fact in case(office).now.facts}


@pytest.mark.parametrize("order", ["/foo", "/foo 12", "!foo bar 12 splines", "/price_list", " /it_turns"])
@pytest.mark.parametrize("before", ["hello", "9 sprockets"])
def test_an_unknown_command_is_none_and_answers_nothing(office: Office, before: str, order: str) -> None:
    office.bring(A, before)
    known = told(office)
    assert "no-such-command" in about(office, order)
    assert told(office) == known


def test_a_stranger_who_begins_with_an_unknown_command_is_greeted(office: Office) -> None:
    assert about(office, "/foo 12") == ["greeting", "no-such-command"]


@pytest.mark.parametrize(("order", "noted"), [("!help", "help"), ("/back", "back"), ("/how do I check?", "how")])
def test_a_word_that_always_works_works_as_a_command(office: Office, order: str, noted: str) -> None:
    office.bring(A, "hello")
    office.bring(A, order)
    assert case(office).events[-1].what == noted  # type: ignore[union-attr]


@pytest.mark.parametrize("note", ["here it is", "my wheel", "this is my wheel", "hello!"])
def test_a_caption_that_only_presents_the_picture_is_thanked_for(office: Office, note: str) -> None:
    office.bring(A, "hello")
    assert about(office, Sent("photo", ONE_FILE, note)) == ["sent-photo"]


def test_a_caption_that_tells_something_counts(office: Office) -> None:
    office.bring(A, "hello")
    assert about(office, Sent("photo", ONE_FILE, "9 sprockets"))[0] == "sent-photo"
    assert told(office) == {"sprockets"}


def test_who_begins_with_an_answer_hears_in_a_sentence_that_a_bot_answers(office: Office) -> None:
    made = office.bring(A, "9 sprockets")
    assert made.reply is not None
    first, second = made.reply.blocks[:2]
    assert isinstance(first, Remark)
    assert first.about == "greeting-in-short"
    assert isinstance(second, Understood)
    assert "greeting-in-short" not in about(office, "it stays still"), "once"


def test_the_picture_of_a_question_that_stays_open_is_not_shown_again(office: Office) -> None:
    def picture(said: str) -> str | None:
        made = office.bring(A, said)
        assert made.reply is not None
        (question,) = made.reply.of(Question)
        return question.picture

    shown = picture("9 sprockets")
    assert shown
    assert [picture(said) for said in ("how do I check?", "qwertz", "what's a spline?")] == [None] * 3
    assert picture("it stays still") not in (None, shown)


def test_a_code_that_opens_nothing_is_said(office: Office) -> None:
    assert about(office, Arrived(secret="no-such-secret")) == ["greeting", "code-unknown"]
    assert "move-asked" in about(office, Arrived(code="ZZZ-999"))
    code = case(office).code
    assert "move-asked" not in about(office, Arrived(code=code))


# --- corrections ----------------------------------------------------------------------------------------------------


def test_a_correction_that_says_the_same_changes_nothing_and_is_not_answered(office: Office) -> None:
    office.bring(A, Said("9 sprokets"), key="k")
    events, said = case(office).events, len(office.channel.screens[A])
    assert office.bring(A, Edited("9 sprockets", "k")).reply is None
    assert case(office).events == events
    assert len(office.channel.screens[A]) == said


def test_a_message_that_is_taken_away_takes_its_answer_with_it(office: Office) -> None:
    office.bring(A, Said("9 sprockets"), key="k")
    office.bring(A, Said("it stays still"), key="l")
    made = office.bring(A, Edited("", "l", if_taken=True))
    assert told(office) == {"sprockets"}
    assert case(office).now.question == "spin"
    assert made.reply is not None
    assert [block.about for block in made.reply.of(Remark)] == ["back-done"]


def test_what_told_nothing_may_be_taken_away(office: Office) -> None:
    office.bring(A, Said("9 sprockets"), key="k")
    office.bring(A, Said("hm"), key="l")
    before = case(office).events
    assert office.bring(A, Edited("", "l", if_taken=True)).reply is None
    assert case(office).events == before


# --- what was answered ----------------------------------------------------------------------------------------------


def test_only_the_question_that_was_answered_is_marked_as_answered(office: Office) -> None:
    office.bring(A, "hello")
    office.bring(A, "it stays still")  # the number of sprockets was asked
    office.bring(A, "9 sprockets")
    marks = [answered for _, answered in office.channel.changed[A]]
    assert marks[0] == ""
