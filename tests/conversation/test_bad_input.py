"""Bad input never ends a conversation: what was not understood is said, nothing is lost, the question stands."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conversation import sayings
from tests.conversation.invariants import hold_after_a_turn, hold_for_a_reply
from tests.effort import effort
from tests.words import words_of
from triagebot.conversation import Guide, Message, plain
from triagebot.conversation.blocks import Understood
from triagebot.identify import ChoiceReading
from triagebot.testing import ScriptedPerson


@pytest.fixture
def asked_for_count(guide: Guide) -> ScriptedPerson:
    return asked_for("count", guide)


@pytest.fixture
def asked_for_size(guide: Guide) -> ScriptedPerson:
    return asked_for("size", guide)


@pytest.fixture
def asked_for_fitting(guide: Guide) -> ScriptedPerson:
    return asked_for("fitting", guide)


def asked_for(question: str, guide: Guide) -> ScriptedPerson:
    """Somebody who has told some things and is now asked this question."""
    person = ScriptedPerson(guide)
    person.says("the wheel is out of the bike", "the middle stays still", "12 splines", "24 mm")
    person.changes(question)
    assert person.reply.question is not None
    assert person.reply.question.id == question
    return person


def asks_again(person: ScriptedPerson, text: str) -> str:
    """Says something that is no answer: no reading changes and the same question is shown, in other words than the last
    time; gives the reply's words."""
    before, question = person.case.now, person.reply.question
    person.says(text)
    hold_after_a_turn(person.guide, person.case, person.reply, person.last.events)
    assert person.case.now.facts == before.facts
    assert person.reply.question is not None
    assert question is not None
    assert person.reply.question.id == question.id
    assert person.reply.question.text != question.text
    assert person.reply.status == "question"
    assert person.last.understood == ()
    return words_of(person.reply)


NOTHING_TO_READ = {
    "empty": ("", "not-understood-empty"),
    "blank": (" \t\n ", "not-understood-empty"),
    "control characters": ("\0\x01\x02\x1b\x7f", "not-understood-empty"),
    "marks that print nothing": ("\u200b\u202e\u202c\ufeff", "not-understood-empty"),
    "emoji": ("🚲🔧😀", "not-understood-symbols"),
    "emoji of several parts": ("👩‍🔧👍🏽", "not-understood-symbols"),
    "punctuation": ("... !!! ///", "not-understood-symbols"),
    "markup": ("<script>alert('x')</script>", "not-understood-"),
    "a link": ("[click](javascript:alert(1))", "not-understood-"),
    "SQL": ("'; DROP TABLE cases; --", "not-understood-"),
    "a template": ("{{ config }} ${HOME} %s", "not-understood-"),
    "right-to-left": ("كم عدد الأسنان في هذه القطعة", "not-understood-"),
    "Hebrew": ("אני לא רואה כלום", "not-understood-"),
    "half a surrogate pair": ("\ud83d", "not-understood-"),
    "JSON": ('{"person": "p1"}', "not-understood-"),
}


@pytest.mark.parametrize("name", NOTHING_TO_READ)
@pytest.mark.parametrize("asked", ["asked_for_count", "asked_for_size", "asked_for_fitting"])
def test_nothing_to_read(request: pytest.FixtureRequest, asked: str, name: str) -> None:
    person: ScriptedPerson = request.getfixturevalue(asked)
    text, told = NOTHING_TO_READ[name]
    said = asks_again(person, text)
    texts = person.guide.language("en").texts
    tones = [tone for tone in ("plain", "empty", "symbols", "off-topic") if f"not-understood-{tone}".startswith(told)]
    assert said.split("\n\n")[0] in [texts(f"not-understood-{tone}") for tone in tones]


@pytest.mark.parametrize("text", ["-4", "400", "1e9", "4.5", "99999999999999999999999999", "a thousand"])
def test_no_such_count(asked_for_count: ScriptedPerson, text: str) -> None:
    said = asks_again(asked_for_count, text)
    _expects(asked_for_count, said, "count")


def test_none_of_them_is_asked_back(asked_for_count: ScriptedPerson) -> None:
    before = asked_for_count.case.now
    asked_for_count.says("0")
    hold_after_a_turn(asked_for_count.guide, asked_for_count.case, asked_for_count.reply, asked_for_count.last.events)
    assert asked_for_count.case.now.facts == before.facts
    puzzle = asked_for_count.case.now.puzzle
    assert puzzle is not None
    assert (puzzle.kind, puzzle.proposed) == ("likely", ChoiceReading("fitting", "none"))


@pytest.mark.parametrize("text", ["0", "0 mm", "-4 mm", "400", "400 mm", "1e9", "1e9 mm", "40 inches", "2 metres"])
def test_no_such_size(asked_for_size: ScriptedPerson, text: str) -> None:
    said = asks_again(asked_for_size, text)
    _expects(asked_for_size, said, "size")


@pytest.mark.parametrize("text", ["NaN", "nan mm", "inf", "infinity", "-inf mm"])
@pytest.mark.parametrize("asked", ["asked_for_count", "asked_for_size"])
def test_no_number_at_all(request: pytest.FixtureRequest, asked: str, text: str) -> None:
    person: ScriptedPerson = request.getfixturevalue(asked)
    assert asks_again(person, text)


def _expects(person: ScriptedPerson, said: str, question: str) -> None:
    """The reply says what it would understand: between which numbers."""
    limits = person.guide.topic.questions[question]
    assert str(limits.least) in said
    assert str(limits.most) in said


@pytest.mark.parametrize("text", ["0", "-1", "400", "1e9"])
def test_a_number_that_no_choice_has(asked_for_fitting: ScriptedPerson, text: str) -> None:
    said = asks_again(asked_for_fitting, text)
    texts = asked_for_fitting.guide.language("en").texts
    assert said in (
        texts("puzzle-choice-plain", said=text.lstrip("-")),
        texts("puzzle-choice-plain", said=text),
        texts("not-understood-plain"),
    )


def test_a_number_that_no_choice_has_may_answer_another_question(asked_for_fitting: ScriptedPerson) -> None:
    before = asked_for_fitting.case.now
    asked_for_fitting.says("7")
    assert asked_for_fitting.case.now.facts == before.facts
    asked_for_fitting.says("yes")
    assert [fact.reading.question for fact in asked_for_fitting.last.understood] == ["sprockets"]


def test_a_long_message_is_cut_and_says_so(person: ScriptedPerson) -> None:
    person.says("the middle stays still. " * 400)
    assert person.guide.language("en").texts("message-cut") in words_of(person.reply)
    assert [fact.reading.question for fact in person.case.now.facts][:1] == ["spin"]
    assert person.reply.question is not None


@pytest.mark.parametrize("filler", ["a", "1", "12 ", "not ", "🚲", "\0", "ا", "1/", "-", "(", "no wait "])
def test_ten_thousand_characters(asked_for_count: ScriptedPerson, filler: str) -> None:
    before = asked_for_count.case.now
    asked_for_count.says((filler * 10_000)[:10_000])
    hold_after_a_turn(asked_for_count.guide, asked_for_count.case, asked_for_count.reply, asked_for_count.last.events)
    kept = [fact for fact in asked_for_count.case.now.facts if fact.reading.question != "count"]
    assert kept == [fact for fact in before.facts if fact.reading.question != "count"]
    assert max(len(repr(event)) for event in asked_for_count.last.events) < 20_000


def test_an_answer_to_a_question_not_asked_counts(asked_for_count: ScriptedPerson) -> None:
    asked_for_count.says("there are 7 sprockets")
    assert [fact.reading.question for fact in asked_for_count.last.understood] == ["sprockets"]
    assert [block.questions for block in asked_for_count.reply.of(Understood)] == [("sprockets",)]
    assert asked_for_count.reply.question is not None


def test_a_button_of_another_question(asked_for_fitting: ScriptedPerson) -> None:
    person, before = asked_for_fitting, asked_for_fitting.case.now
    for choice in ("coasts", "nine-one-narrow", "", "no such thing", "x" * 10_000):
        reply = person.presses(choice)
        assert words_of(reply) == person.guide.language("en").texts("not-a-choice")
        assert reply.question is not None
        assert reply.question.id == "fitting"
        assert person.case.now.facts == before.facts


def test_a_button_after_the_end(guide: Guide) -> None:
    person = ended(guide)
    reply = person.presses("splines")
    assert words_of(reply) == guide.language("en").texts("after-answer", code=person.case.code)
    assert reply.result.remover == "remover-20-spline"


def ended(guide: Guide) -> ScriptedPerson:
    """Somebody who has the 20-spline remover named."""
    person = ScriptedPerson(guide)
    person.says("it stays still and has 20 splines, 21.5 mm by calliper, the wheel is out")
    while person.reply.question is not None:
        person.says("I don't know")
    assert person.reply.status == "answer"
    assert person.reply.result.remover == "remover-20-spline"
    return person


@pytest.mark.parametrize("text", ["", "🚲", "blah blah", "<b>", "NaN", "400", "thanks", "hello", "why", "how?", "yes"])
def test_after_the_end_the_answer_stands(guide: Guide, text: str) -> None:
    person = ended(guide)
    before = person.case.now
    reply = person.says(text)
    assert person.case.now.facts == before.facts
    assert reply.status == "answer"
    assert reply.result.remover == "remover-20-spline"
    hold_for_a_reply(guide, person.case, reply)


def test_after_the_end_another_answer_is_taken(guide: Guide) -> None:
    person = ended(guide)
    person.says("no wait, it turns with the sprockets")
    hold_after_a_turn(guide, person.case, person.reply, person.last.events)
    assert person.case.now.readings[-1] == person.last.understood[-1].reading
    if person.reply.status == "question":
        assert guide.language("en").texts("one-more-thing") not in plain(person.reply)
    person.says("back")
    assert person.reply.result.remover == "remover-20-spline"


def test_an_unknown_language_changes_nothing(person: ScriptedPerson) -> None:
    person.send(Message("it stays still", language="tlh"))
    assert person.case.language == "en"
    assert [block.questions for block in person.reply.of(Understood)] == [("spin",)]
    other = ScriptedPerson(person.guide, language="tlh")
    assert words_of(other.says("it stays still")) == words_of(person.reply)


def test_three_times_nothing_offers_a_person(person: ScriptedPerson) -> None:
    texts = person.guide.language("en").texts
    person.says("blub")
    assert texts("offer-person") not in words_of(person.reply)
    person.says("blub", "blub")
    assert texts("offer-person") in words_of(person.reply)
    person.says("the middle stays still", "blub")
    assert texts("offer-person") not in words_of(person.reply)


@given(st.text())
@settings(max_examples=150)
def test_any_text_is_answered(text: str) -> None:
    person = ScriptedPerson(sayings.shipped_guide())
    person.says(text)
    hold_after_a_turn(person.guide, person.case, person.reply, person.last.events)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [20260302, 20260303])
def test_thousands_of_fuzzed_messages_in_two_halves(seed: int) -> None:
    draw = random.Random(seed)
    for conversation in range(effort(8, 125)):
        person = ScriptedPerson(sayings.shipped_guide(), code=f"case-{conversation}")
        for _ in range(40):
            text = sayings.fuzzed(draw)
            try:
                person.says(text)
            except Exception as error:
                raise AssertionError(f"{text!r} after {person.case.now!r}") from error
            assert plain(person.reply)
        person.says("restart", "the middle stays still")
        assert [fact.reading.question for fact in person.case.now.facts] == ["spin"]
        assert person.reply.question is not None
        hold_after_a_turn(person.guide, person.case, person.reply, person.last.events)
