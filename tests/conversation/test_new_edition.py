"""An old case under a new edition: what stands is not told again, and who is at work stays at the step."""

from dataclasses import replace

import pytest

from tests.conversation.guides import without_question
from tests.conversation.invariants import hold_after_a_turn
from tests.words import words_of
from triagebot.conversation import Guide
from triagebot.conversation.blocks import Finding, Step
from triagebot.conversation.events import Adopted, Concluded
from triagebot.testing import ScriptedPerson
from triagebot.topics import Learned, taught

FREEWHEEL = "6 sprockets, the middle stays still, 20 splines, 21.5 mm by calliper"


@pytest.fixture
def learned(guide: Guide) -> Guide:
    """The guide after the shop's closed cases have moved how common two kinds are, and nobody's answer."""
    topic = guide.topic
    priors = dict(zip(topic.model.fastenings, map(float, topic.model.prior), strict=True))
    priors["freewheel-20-spline"] *= 1.1
    total = sum(priors.values())
    learned = Learned(topic=topic.id, priors={each: share / total for each, share in priors.items()}, slips={})
    return replace(guide, topic=taught(topic, learned))


@pytest.fixture
def answered(guide: Guide) -> ScriptedPerson:
    person = ScriptedPerson(guide)
    person.says(FREEWHEEL)
    assert person.reply.status == "answer"
    return person


def kinds(person: ScriptedPerson) -> list[type]:
    return [type(block) for block in person.reply.blocks]


def test_thanks_after_it_get_no_second_answer(answered: ScriptedPerson, learned: Guide) -> None:
    other = ScriptedPerson(answered.guide)
    other.says(FREEWHEEL, "thanks")
    result, answered.guide = answered.reply.result, learned
    answered.says("thanks")
    hold_after_a_turn(learned, answered.case, answered.reply, answered.last.events)
    assert [type(event) for event in answered.last.events][:2] == [Adopted, Concluded]
    assert words_of(answered.reply) == words_of(other.reply)
    assert (answered.reply.status, answered.reply.result) == ("answer", result)


def test_what_is_asked_after_it_is_answered_for_what_was_named(answered: ScriptedPerson, learned: Guide) -> None:
    answered.says("how tight?")
    before, answered.guide = words_of(answered.reply), learned
    answered.says("how tight?")
    assert words_of(answered.reply) == before


def test_who_is_at_a_step_goes_on_from_it(answered: ScriptedPerson, learned: Guide) -> None:
    answered.says("take me through it", "done", "it doesn't go in")
    at = answered.case.now.at("guided")
    assert at is not None
    assert at.tried
    answered.guide = learned
    answered.says("thanks")
    assert answered.case.now.at("guided") == at
    answered.says("done")
    assert Finding not in kinds(answered)
    assert kinds(answered).count(Step) == 1
    following = answered.case.now.at("guided")
    assert following is not None
    assert following.what != at.what


def test_done_right_after_it_leads_to_the_next_step(answered: ScriptedPerson, learned: Guide) -> None:
    answered.says("take me through it")
    other = ScriptedPerson(answered.guide)
    other.says(FREEWHEEL, "take me through it", "done")
    answered.guide = learned
    answered.says("done")
    assert words_of(answered.reply) == words_of(other.reply)


def test_an_answer_to_what_was_open_beside_it_is_heard(guide: Guide) -> None:
    person = ScriptedPerson(guide)
    person.says("it's an ebike", "it stays still, 4 notches, 40 mm with a calliper, one sprocket")
    assert person.reply.question is not None
    assert person.reply.question.id == "motor"
    person.guide = without_question(guide, "wire-ring")
    person.says("in the rear hub")
    assert "electric" in person.reply.result.cautions


def test_what_is_another_now_is_told(answered: ScriptedPerson, guide: Guide) -> None:
    answered.guide = without_question(guide, "count")
    answered.says("thanks")
    assert guide.language("en").texts("topic-changed", count=1) in words_of(answered.reply)
    assert answered.reply.question is not None or Finding in kinds(answered)
