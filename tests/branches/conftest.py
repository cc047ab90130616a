"""A chain on a fake platform."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.branches.chain import Chain
from tests.doubles.telegram import Telegram
from tests.doubles.telegram_tests.fixtures import platform, served

__all__ = ["platform", "served"]


@pytest.fixture
def chain(platform: Telegram, tmp_path: Path) -> Iterator[Chain]:
    """It is set up and not started."""
    made = Chain(platform, tmp_path)
    yield made
    made.end()
