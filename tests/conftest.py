"""What every test starts from: how many examples are drawn, a home of its own, seeds."""

import gc
import random
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

from tests.effort import LONG
from tests.store import engines
from tests.store.engines import database, engine, server

if TYPE_CHECKING:
    from xdist.scheduler.protocol import Scheduling

__all__ = ["database", "engine", "server"]

if engines.ALONE:
    _on_it_alone = engines._on_it_alone

# No deadline anywhere, and nothing too slow to draw: the machine does other work beside, and what is slow is not wrong.
PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True)
settings.register_profile("short", PATIENT, derandomize=True, database=None, max_examples=25)
settings.register_profile("long", PATIENT, max_examples=2000)
settings.load_profile("long" if LONG else "short")

#: What shares something that costs seconds to start (a homeserver, a browser) is one piece of work for one worker.
TOGETHER = ("tests/channels/matrix/", "tests/pages/browser/")
#: The pieces that take longest by themselves: one installs the program with all its libraries.
LONGEST = (*TOGETHER, "tests/test_away_from_home.py", "tests/study/", "tests/counter/", "tests/topics/")


def pytest_collection() -> None:
    """Collecting makes millions of objects that stay: going through them all the time finds nothing to throw away."""
    gc.disable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes longest by itself begins first: begun last, it would keep one worker when the others are done."""
    items.sort(key=lambda item: next((n for n, name in enumerate(LONGEST) if item.nodeid.startswith(name)), 99))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> "Scheduling":
    """Each worker is given a file at a time, in order; what is `TOGETHER` as a whole."""
    from xdist.scheduler.loadscope import LoadScopeScheduling

    class Pieces(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return next((piece for piece in TOGETHER if nodeid.startswith(piece)), nodeid.partition("::")[0])

    config.option.loadscopereorder = False
    return Pieces(config, log)


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What a test leaves behind is looked for as always, but not among what was there before the first test."""
    gc.collect()
    gc.freeze()
    # As the command does: most of what a test makes goes without a search for rings.
    gc.set_threshold(200_000, 20, 20)
    gc.enable()


@pytest.fixture(autouse=True, scope="session")
def _a_home_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test reads or writes the settings, keys and cases of the person who runs it."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"):
            patch.setenv(name, str(home / name.lower()))
        yield


@pytest.fixture(autouse=True)
def _seeds() -> None:
    """Nothing should draw from the global generators; what does draws the same in every order of tests."""
    random.seed(20260101)
    np.random.seed(20260101)
