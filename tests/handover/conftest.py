"""The fixtures of delivery, and a shop with a room for its staff."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.delivery.fixtures import _own_key, channel, codes, guide, office
from tests.handover.workshop import Workshop, workshop

__all__ = ["_own_key", "channel", "codes", "guide", "office"]


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Workshop]:
    with workshop(tmp_path) as made:
        yield made
