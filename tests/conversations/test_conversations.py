"""Every written-out conversation runs word for word as it stands, and ends as its head says."""

from pathlib import Path

import pytest

from tests.conversations.conversation_file import FOLDER, guide, hold, read
from triagebot.conversation import Guide

FILES = sorted(FOLDER.glob("*.txt"))


@pytest.fixture(scope="module")
def loaded() -> Guide:
    return guide()


def test_there_are_at_least_fifteen() -> None:
    assert len(FILES) >= 15


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_it_runs_as_written(loaded: Guide, path: Path) -> None:
    written = read(path)
    whole, _, reply = hold(loaded, written)
    assert " ".join(filter(None, (reply.status, reply.result.remover))) == written.ends
    assert whole == written.whole


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_cautions_come_before_the_tool(loaded: Guide, path: Path) -> None:
    whole, _, _ = hold(loaded, read(path))
    for reply in whole.split("\n> "):
        tool, warned = reply.find("Remover: "), reply.find("WARNING")
        if tool >= 0:
            assert 0 <= warned < tool
