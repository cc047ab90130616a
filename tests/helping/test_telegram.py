"""A mentor of two on Telegram: which wheel is meant is asked with buttons, and a press sends it there."""

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import pytest_asyncio

from tests.channels.telegram.stage import Stage, polling
from tests.doubles.telegram import Person, Screen, Telegram
from tests.doubles.telegram_tests.fixtures import platform, served

__all__ = ["platform", "served"]


@pytest_asyncio.fixture
async def stage(platform: Telegram, tmp_path: Path) -> AsyncIterator[Stage]:
    async with polling(platform, tmp_path) as opened:
        yield opened


async def says(stage: Stage, who: Person, text: str) -> Screen:
    before = len(who.screen().from_bots)
    who.write(text)
    await who.watch(lambda screen: len(screen.from_bots) > before)
    await stage.quiet()
    return who.screen()


@pytest.mark.asyncio
@pytest.mark.parametrize(("button", "wheel"), [("Yes, Blue: blue has 12 splines", "Blue"), ("No, Red", "Red")])
async def test_a_press_says_which_wheel_is_meant(stage: Stage, button: str, wheel: str) -> None:
    mo = stage.person("Mo")
    for name in ("Blue", "Red"):
        await says(stage, mo, f"I’m helping somebody: {name}")
    screen = await says(stage, mo, "blue has 12 splines")
    assert screen.last.text.startswith("Is that for “Blue”?")
    assert [each.text for each in screen.last.buttons] == ["Yes, Blue: blue has 12 splines", "No, Red"]
    before = len(screen.from_bots)
    mo.press(button)
    await mo.watch(lambda screen: len(screen.from_bots) > before)
    await stage.quiet()
    told = "\n".join(message.text for message in mo.screen().from_bots[before:])
    assert f"“{wheel}”" in told
    assert "12 splines, then." in told
