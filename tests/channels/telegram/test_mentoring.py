"""Somebody helps a rider: what is to be sent on is a message of its own, and a link lets the rider in."""

import pytest

from tests.channels.telegram.stage import Stage
from tests.conversation.guides import shipped_guide
from tests.doubles.telegram import Person, Screen

pytestmark = pytest.mark.asyncio

TEXTS = shipped_guide().language("en").texts


async def said(stage: Stage, person: Person, text: str) -> Screen:
    person.write(text)
    await stage.quiet()
    return person.screen()


async def test_a_question_to_send_on_stands_alone_behind_the_one_with_the_buttons(stage: Stage) -> None:
    mo = stage.person("Mo")
    await said(stage, mo, "/help_somebody")
    screen = await said(stage, mo, "the blue commuter")
    assert len(screen.from_bots) == 3, "the name is asked for; then the mentor’s words and the rider’s"
    screen = await said(stage, mo, "9 sprockets")
    asked, forward = screen.from_bots[-2:]
    assert TEXTS("mentor-what-back", name="the blue commuter") in asked.text
    assert asked.buttons
    assert not forward.buttons
    listed = [button.text for button in asked.buttons if button.text[0].isdigit()]
    assert listed, "a question with choices"
    assert all(label in forward.text for label in listed)
    mo.press(listed[0])
    await stage.quiet()
    screen = mo.screen()
    assert [len(message.buttons) > 0 for message in screen.from_bots[-4:]] == [False, False, True, False]


async def test_a_link_brings_the_rider_in(stage: Stage) -> None:
    mo, ria = stage.person("Mo"), stage.person("Ria")
    await said(stage, mo, "I’m helping somebody: the blue commuter")
    invitation = (await said(stage, mo, "invite")).from_bots[-1]
    link = next(word.rstrip(",") for word in invitation.text.split() if word.startswith("https://t.me/"))
    name, _, code = link.removeprefix("https://t.me/").partition("?start=")
    assert name == f"bot{stage.token[:9]}_bot"
    assert code in invitation.text.replace(link, "")
    asked = (await said(stage, ria, f"/start {code}")).last
    assert asked.text == TEXTS("mentor-consent", shop=shipped_guide().shop.name)
    ria.press(TEXTS("mentor-consent-yes"))
    await stage.quiet()
    assert mo.screen().last.text == TEXTS("mentor-joined", name="the blue commuter")
    await said(stage, ria, "it stays still")
    copy = TEXTS("mentor-copy", name="the blue commuter", said="it stays still")
    assert [copy in message.text for message in mo.screen().from_bots].count(True) == 1
    await said(stage, mo, "4 notches")
    assert ria.screen().last.text.startswith(TEXTS("mentor-from-mentor"))


async def test_an_answer_right_after_a_rider_s_news_goes_to_no_other_wheel(stage: Stage) -> None:
    mo, ria = stage.person("Mo"), stage.person("Ria")
    await said(stage, mo, "I’m helping somebody: Blue")
    invitation = (await said(stage, mo, "invite")).from_bots[-1]
    link = next(word.rstrip(",") for word in invitation.text.split() if word.startswith("https://t.me/"))
    await said(stage, ria, f"/start {link.partition('?start=')[2]}")
    ria.press(TEXTS("mentor-consent-yes"))
    await stage.quiet()
    await said(stage, mo, "I’m helping somebody: Red")
    await said(stage, ria, "20 splines")
    asked = (await said(stage, mo, "no, 12 splines")).last
    assert asked.text.startswith("Is that for “Blue”?")
    assert [button.text for button in asked.buttons] == ["Yes, Blue: no, 12 splines", "No, Red"]
    mo.press("Yes, Blue: no, 12 splines")
    await stage.quiet()
    assert any("Earlier you said: the count is 20" in message.text for message in ria.screen().from_bots)
    summed = (await said(stage, mo, "Red summary")).from_bots[-2:]
    assert any("Red" in message.text for message in summed)
