"""The fake platform as every test finds it: one server a module, without faults and limits."""

from collections.abc import Iterator

import pytest

from tests.doubles.telegram import Faults, Limits, Telegram, serve


@pytest.fixture(scope="module")
def served() -> Iterator[Telegram]:
    with serve() as telegram:
        yield telegram


@pytest.fixture
def platform(served: Telegram) -> Iterator[Telegram]:
    yield served
    served.set_faults(Faults())
    served.set_limits(Limits())
    served.outage(0)
    served.tune(press_answered_within=30.0, webhook_pace=1.0)
