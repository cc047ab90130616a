"""A delivery with its channel; the key that closes what is personal lies in a folder of each test's own, in other
processes as well."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Office
from tests.delivery.recorded import RecordedChannel
from triagebot.conversation import Guide
from triagebot.testing import Codes


@pytest.fixture(autouse=True)
def _own_key(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))


@pytest.fixture
def channel() -> RecordedChannel:
    return RecordedChannel()


@pytest.fixture
def guide() -> Guide:
    return shipped_guide()


@pytest.fixture
def codes() -> Callable[[], str]:
    return Codes()


@pytest.fixture
def office(tmp_path: Path, guide: Guide, channel: RecordedChannel, codes: Callable[[], str]) -> Iterator[Office]:
    """Of whatever guide, channel and codes the tests at hand say."""
    office = Office(tmp_path / "data", guide, channel, codes=codes)
    yield office
    office.close()
    office.runner.close()
