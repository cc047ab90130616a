"""The change of a message that was answered: nobody waits for it, and it may be left out."""

import pytest

from tests.channels.telegram.stage import Rider, Stage, said_back, until
from tests.doubles.telegram import Faults

pytestmark = pytest.mark.asyncio
EDITS = ("editMessageText", "editMessageCaption", "editMessageReplyMarkup")


async def test_whoever_answers_at_once_does_not_wait_for_the_change(stage: Stage) -> None:
    """The platform takes for ever over the change of each message; the conversation goes on."""
    stage.platform.set_faults(Faults(slow_seconds=3600))
    for method in EDITS:
        stage.platform.inject(method, "slow", 2)
    ada = stage.person("Ada")
    rider = Rider(ada)
    await rider.start()
    for _ in range(3):
        await rider.answer()
    assert not any(message.edited for message in ada.screen().from_bots)
    stage.platform.skip(3600)
    await ada.watch(lambda screen: sum(message.edited for message in screen.from_bots) == 3)
    assert [bool(message.buttons) for message in ada.screen().from_bots] == [False, False, False, True]


async def test_a_change_that_fails_is_made_later(stage: Stage) -> None:
    for method in EDITS:
        stage.platform.inject(method, "500", 1)
    ada = stage.person("Ada")
    rider = Rider(ada)
    await rider.start()
    await rider.answer()
    await stage.quiet()
    first = ada.screen().from_bots[0]
    assert first.edited
    assert not first.buttons
    assert stage.delivery.counts.retried == 0


async def test_a_change_that_fails_for_good_is_left_out(stage: Stage) -> None:
    for method in EDITS:
        stage.platform.inject(method, "500", 9)
    ada = stage.person("Ada")
    rider = Rider(ada)
    await rider.start()
    await rider.answer()
    await stage.quiet()
    first = ada.screen().from_bots[0]
    assert first.buttons
    ada.press(first.buttons[0].text, message=first.id)
    await until(lambda: len(ada.screen().from_bots) == 3)
    assert not said_back(ada.screen(), "answered"), "what is stale is told so"
    assert stage.delivery.counts.stale == 1
