"""What leans on the open question ("which bit?") is answered by that question; what is not clear is offered."""

import pytest

from tests.conversation.enquiries.rows import Row, after, standing_at, unchanged
from tests.words import words_of
from triagebot.conversation import Guide, Message, turn
from triagebot.conversation.blocks import HowTo, Question, Remark
from triagebot.testing import START

#: What people ask of the open question, and the text that answers it.
LEANS = [
    ("count", "does the gap count", "question-count.what-counts"),
    ("count", "ridges or the dips between?", "question-count.what-counts"),
    ("count", "can I guess, or has it to be exact?", "question-count.how-exact"),
    ("size", "how wide roughly?", "question-size.how-exact"),
    ("size", "inner edge or outer edge?", "question-size.what-counts"),
    ("size", "which ring do you mean?", "question-size.which-part"),
    ("spin", "spin what sorry", "question-spin.which-part"),
    ("spin", "which way do I spin it?", "question-spin.which-way"),
    ("sprockets", "does the tiny one count?", "question-sprockets.what-counts"),
    ("axle", "what does the other sort look like", "question-axle.looks-like"),
    ("fitting", "what do they look like", "question-fitting.looks-like"),
]


@pytest.mark.parametrize(("opened", "text", "answer"), LEANS)
def test_what_leans_on_the_open_question_is_answered_by_it(guide: Guide, opened: str, text: str, answer: str) -> None:
    case = standing_at(guide, opened)
    made = after(guide, case, Row(opened, text, ""))
    assert guide.language("en").texts(answer) in words_of(made.reply)
    assert unchanged(case, made)
    assert isinstance(made.reply.blocks[-1], Question)


def test_a_question_without_words_of_its_own_says_how_to_check(guide: Guide) -> None:
    made = after(guide, standing_at(guide, "torque"), Row("torque", "which bit do I look at?", ""))
    assert any(isinstance(block, HowTo) and block.question == "torque" for block in made.reply.blocks)


def test_where_no_question_is_open_it_is_answered_all_the_same(guide: Guide) -> None:
    made = after(guide, standing_at(guide, "answered"), Row("answered", "which bit do you mean?", ""))
    assert guide.language("en").texts("enquiry-which-part") in words_of(made.reply)


def _not_clear(guide: Guide) -> Row:
    """A message that asks something, which is not clear enough to be answered."""
    row = Row("count", "and what would the other lot say", "")
    made = after(guide, standing_at(guide, "count"), row)
    assert "I’m not sure what you’re asking." in words_of(made.reply)
    return row


def test_what_is_not_clear_is_offered_beside_the_open_question(guide: Guide) -> None:
    row = _not_clear(guide)
    case = standing_at(guide, "count")
    made = after(guide, case, row)
    question = made.reply.question
    assert question is not None
    offered = question.aside[0]
    assert (offered.id, offered.label) == ("ask-price", "What does it cost?")
    assert unchanged(case, made)
    asked = words_of(turn(guide, case, Message("what does it cost"), START).reply)
    for said in (Message(choice=offered.id), Message("what does it cost"), Message(offered.label)):
        picked = turn(guide, made.case, said, START)
        assert "£" in words_of(picked.reply)
        assert words_of(picked.reply) == asked
        assert picked.reply.question is not None


def test_what_gives_nothing_again_and_again_is_not_offered_once_more(guide: Guide) -> None:
    row = _not_clear(guide)
    case = standing_at(guide, "count")
    for _ in range(3):
        made = turn(guide, case, Message(row.text), START)
        case = made.case
    assert "I’m not sure what you’re asking." not in words_of(made.reply)
    assert "person" in words_of(made.reply)


def test_what_is_no_question_gets_no_offer(guide: Guide) -> None:
    for text in ("ok will try now", "let me get my torch", "hmm ok will look"):
        made = after(guide, standing_at(guide, "spin"), Row("spin", text, ""))
        assert not any(isinstance(block, Remark) and block.about == "perhaps-asked" for block in made.reply.blocks)


def test_an_offer_that_is_not_known_any_more_does_no_harm(guide: Guide) -> None:
    made = turn(guide, standing_at(guide, "count"), Message(choice="ask-nothing-known"), START)
    assert made.reply.question is not None


@pytest.mark.parametrize(
    ("text", "answers"),
    [
        ("how much is it and are you open on saturday?", ("£6.00", "on Saturday")),
        ("are you open saturday? and whats a spline?", ("on Saturday", "Splines are the little ridges")),
        ("Where are you? Do I need gloves?", ("3 Signal Yard", "Wear gloves")),
    ],
)
def test_two_questions_of_one_message_are_both_answered(guide: Guide, text: str, answers: tuple[str, ...]) -> None:
    said = words_of(after(guide, standing_at(guide, "sprockets"), Row("sprockets", text, "")).reply)
    assert [each for each in answers if each not in said] == []


@pytest.mark.parametrize(
    ("opened", "text", "answer"),
    [
        ("spin", "I don't get this one", "question-spin.how"),
        ("fitting", "what's the difference?", "glossary-spline-or-notch"),
        ("wheel", "does it have to be? such a faff", "enquiry-wheel-out"),
        ("answered", "a chain what??", "glossary-chain-whip"),
        ("axle", "what's the quick one", "glossary-quick-release"),
    ],
)
def test_what_is_asked_in_a_word_or_two(guide: Guide, opened: str, text: str, answer: str) -> None:
    made = after(guide, standing_at(guide, opened), Row(opened, text, ""))
    assert guide.language("en").texts(answer) in words_of(made.reply)
    assert unchanged(standing_at(guide, opened), made)
