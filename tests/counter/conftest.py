"""A shop of its own for each test; its key lies in a folder of the test's own."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.counter.shop import Shop
from tests.counter.waiting import ADA, BOB, EVE


@pytest.fixture(autouse=True)
def _own_key(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path)
    yield shop
    shop.end()


@pytest.fixture
def code(shop: Shop) -> str:
    """Bob waits for a person; Ada and Eve are staff."""
    shop.staff(ADA)
    shop.staff(EVE)
    return shop.needs_a_person(BOB)


@pytest.fixture
def ada(shop: Shop) -> None:
    """Ada is staff."""
    shop.staff(ADA)
