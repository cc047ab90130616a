"""A copy of the example shop that a test may spoil, and the topic that it is read for."""

import re
import shutil
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from triagebot.shop import built_in_shop, check_shop
from triagebot.topics import Topic, built_in_topic, load_topic


def _last_review() -> date:
    """The day on which a note of the example was reviewed last."""
    notes = (file.read_text(encoding="utf-8") for file in built_in_shop().glob("notes/*.md"))
    return max(date.fromisoformat(day) for note in notes for day in re.findall(r"^reviewed-on: (\S+)$", note, re.M))


#: Shortly after the last review of the example's notes, whenever that is: a note that was reviewed today passes.
TODAY = _last_review() + timedelta(days=30)


@pytest.fixture(scope="session")
def topic() -> Topic:
    return load_topic(built_in_topic())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(built_in_shop(), tmp_path / "shop"))


@pytest.fixture
def edit(folder: Path) -> Callable[[str, str, str], int]:
    """Replace the first occurrence of a text in a file of the copy; gives the line on which it stood."""

    def replace(name: str, old: str, new: str) -> int:
        path = folder / name
        text = path.read_text(encoding="utf-8")
        assert old in text, f"{name} does not hold {old!r}"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return text[: text.index(old)].count("\n") + 1

    return replace


@pytest.fixture
def complaints(folder: Path, topic: Topic) -> Callable[..., list[str]]:
    """What `check_shop` says about the copy, with file names from the shop folder down."""

    def check(today: date = TODAY) -> list[str]:
        return [str(p).removeprefix(f"{folder}/") for p in check_shop(folder, topic, today)]

    return check
