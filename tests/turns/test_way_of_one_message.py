"""The way of one message: which files a newcomer reads to follow it, walked by a real message.

The ten files are those that DEVELOPERS.md names. What is done once (starting, reading files, compiling what is kept)
does not count, so one conversation is held first.
"""

import asyncio
import re
import sys
import threading
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
import pytest_asyncio

import triagebot
from tests.channels.telegram.stage import Rider, Stage, polling
from tests.doubles.telegram import Telegram
from tests.doubles.telegram_tests.fixtures import platform, served
from triagebot.delivery import delivery

__all__ = ["platform", "served"]

pytestmark = pytest.mark.asyncio

PACKAGE = Path(triagebot.__file__).parent
DEVELOPERS = PACKAGE.parent / "DEVELOPERS.md"
#: As many files as one message enters today.
MOST_FILES = 39
#: Seconds after which the delivery would look around by itself: the test is long over by then.
NEVER = 3600.0


class Entered:
    """The files of ours whose code is entered in any thread, while it is listened to."""

    def __init__(self) -> None:
        self.files: set[str] = set()
        self.listens = False

    def __call__(self, frame: FrameType, event: str, _: Any) -> None:
        if self.listens and event == "call":
            self.files.add(frame.f_code.co_filename)

    @contextmanager
    def listening(self) -> Iterator[None]:
        self.files.clear()
        self.listens = True
        try:
            yield
        finally:
            self.listens = False

    def ours(self) -> list[str]:
        return sorted(
            Path(name).relative_to(PACKAGE).as_posix() for name in self.files if name.startswith(f"{PACKAGE}/")
        )


@pytest.fixture
def entered() -> Iterator[Entered]:
    """Every thread that begins from now on is heard, and this one."""
    found = Entered()
    threading.setprofile(found)
    sys.setprofile(found)
    try:
        yield found
    finally:
        sys.setprofile(None)
        threading.setprofile(None)


@pytest_asyncio.fixture
async def stage(
    entered: Entered, platform: Telegram, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> AsyncIterator[Stage]:
    """A bot whose threads are heard, and which does nothing by the clock meanwhile."""
    monkeypatch.setattr(delivery, "LOOK_AROUND", NEVER)
    async with polling(platform, tmp_path) as opened:
        yield opened


def ten_files() -> list[str]:
    """Those that the section names, in order."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    section = text.partition("\n## The way of one message\n")[2].partition("\n## ")[0]
    return re.findall(r"^\d+\. `triagebot/([\w/]+\.py)`", section, re.MULTILINE)


async def test_one_message_enters_the_ten_files_and_few_others(stage: Stage, entered: Entered) -> None:
    await Rider(stage.person("Bob"), presses=False).to_the_end()
    ada = Rider(stage.person("Ada"), presses=False)
    await ada.start()
    await stage.quiet()
    sent = stage.delivery.counts.sent
    with entered.listening():
        await ada.answer()
        while stage.delivery.counts.sent < sent + 2:  # the answer, and the change of the question that it answers
            await asyncio.sleep(0.01)
    walked = entered.ours()
    named = ten_files()
    assert len(named) == 10
    assert set(named) <= set(walked), f"{set(named) - set(walked)} are not entered"
    assert len(walked) <= MOST_FILES, walked
