"""The fixtures of delivery, with codes as they are given out."""

from collections.abc import Callable

import pytest

from tests.delivery.fixtures import _own_key, channel, guide, office
from tests.delivery.office import Office
from triagebot.messages import new_code
from triagebot.topics import Texts

__all__ = ["_own_key", "channel", "codes", "guide", "office", "texts"]


@pytest.fixture
def codes() -> Callable[[], str]:
    """As they are given out."""
    return new_code


@pytest.fixture
def texts(office: Office) -> Texts:
    return office.guide.language("en").texts
