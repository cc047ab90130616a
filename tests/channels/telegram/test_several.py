"""Several processes on one PostgreSQL: see `several`. A few harms in an ordinary run; by command, as long as wanted."""

import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.channels.telegram.several import TAKEN_OVER, Several, several
from tests.commands import PATIENCE
from tests.doubles.telegram import Telegram, serve_apart
from tests.effort import effort
from tests.store import cluster
from tests.store.engines import server

__all__ = ["server"]

pytestmark = pytest.mark.slow


@pytest.fixture
def apart() -> Iterator[Telegram]:
    with serve_apart() as telegram:
        yield telegram


@pytest.fixture
def url(server: str, tmp_path: Path) -> Iterator[str]:
    yield cluster.url_for(server, tmp_path)
    cluster.drop_all(server)


@pytest.mark.asyncio
async def test_nothing_is_lost_and_nothing_happens_twice(apart: Telegram, tmp_path: Path, url: str) -> None:
    report = await several(apart, tmp_path, url, seed=1, harms=effort(4, 40), people=effort(6, 20))
    print(f"\n{report}")
    assert report.people >= effort(6, 20)
    assert report.trouble == dict.fromkeys(report.trouble, 0)
    assert report.repeated <= sum(report.harm.values()) * 3


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSTOP, signal.SIGTERM])
def test_another_process_takes_the_bot_over(apart: Telegram, tmp_path: Path, url: str, how: int) -> None:
    """One fetches its messages at a time; where that one ends or hangs, another does before long."""
    both = Several(apart, tmp_path, url, count=2)
    person = apart.add_person("P", language="en", bot=both.token)
    try:
        first, second = both.servers
        first.start()
        _until(first.serves)
        second.start()
        _until(lambda: b"served by another process" in second.said())
        assert not second.serves()
        person.write("9 sprockets")
        _until(lambda: len(person.screen().from_bots) == 1)
        first.signal(how)
        at = time.monotonic()
        _until(second.serves)
        assert time.monotonic() - at < TAKEN_OVER * 4, "on a busy machine"
        person.write("it stays still")
        _until(lambda: len(person.screen().from_bots) == 2)
        if how == signal.SIGSTOP:
            first.signal(signal.SIGCONT)
            _until(lambda: b"not served by this process" in first.said())
            person.write("why")
            _until(lambda: len(person.screen().from_bots) == 3)
            assert second.serves()
    finally:
        both.end()


def _until(happened: object) -> None:
    assert callable(happened)
    end = time.monotonic() + PATIENCE
    while not happened():
        assert time.monotonic() < end
        time.sleep(0.1)
