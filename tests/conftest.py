"""What every test starts from: how many examples are drawn, a home of its own, seeds."""

import random
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import settings

from tests.effort import LONG

# No deadline anywhere: the machine does other work beside, and a slow example is no wrong example.
settings.register_profile("short", deadline=None, derandomize=True, database=None, max_examples=25, print_blob=True)
settings.register_profile("long", deadline=None, max_examples=2000, print_blob=True)
settings.load_profile("long" if LONG else "short")


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
