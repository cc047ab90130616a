"""Answers that a shop would rather have a person look at: only where it says so, and then as those that always do."""

from dataclasses import replace

import pytest

from tests.conversation.guides import shipped_guide
from tests.words import words_of
from triagebot.conversation import Guide, load_guide
from triagebot.testing import ScriptedPerson
from triagebot.topics import handing_over

WHEEL = "it stays still, 4 notches, 24 mm by calliper, 7 sprockets"


def choosing(*chosen: str) -> Guide:
    """The example shop, if it had chosen these."""
    guide = shipped_guide()
    shop = replace(guide.shop, about=guide.shop.about.model_copy(update={"hand_over": chosen}))
    return replace(guide, topic=handing_over(guide.topic, chosen), shop=shop)


@pytest.mark.parametrize("text", ["the motor is in the rear hub", "a motor cable comes out of the axle"])
def test_an_electric_hub_goes_to_a_person_where_the_shop_says_so(text: str) -> None:
    asked, other = ScriptedPerson(choosing("electric-hub")), ScriptedPerson(shipped_guide())
    for person in (asked, other):
        person.says(WHEEL, text)
    assert (asked.case.now.outcome, asked.case.now.reason) == ("person", "referral")
    assert other.case.now.outcome == "answer"


def test_it_says_to_leave_the_wheel_in_and_warns_of_the_motor() -> None:
    guide = choosing("electric-hub")
    person = ScriptedPerson(guide)
    person.says("it has a motor in the rear wheel")
    text, texts = words_of(person.reply), guide.language("en").texts
    assert texts("referral-motor-rear-hub") in text
    assert texts("what-next-bike") in text
    assert texts("what-next-person") not in text
    assert person.reply.result.cautions[0] == "electric"


def test_a_person_who_speaks_of_an_electric_bike_is_asked_where_its_motor_is_before_a_tool_is_named() -> None:
    person = ScriptedPerson(choosing("electric-hub"))
    person.says(f"my electric bike, {WHEEL}")
    assert person.case.now.question == "motor"
    assert person.case.now.outcome is None


def test_a_case_tells_the_editions_apart() -> None:
    topic = shipped_guide().topic
    assert handing_over(topic, ()) is topic
    assert handing_over(topic, ("no-such-choice",)) is topic
    assert handing_over(topic, ("electric-hub",)).digest != topic.digest


def test_the_shop_s_file_says_it() -> None:
    guide = shipped_guide()
    shop = choosing("electric-hub").shop
    assert load_guide(guide.topic, shop).topic.flow.referrals[-1].choice == "motor-cable"
    assert load_guide(guide.topic, guide.shop).topic is guide.topic
