"""How the checks draw at random: the same draws every time in CI, fresh ones at a delivery."""

import os
import random
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import settings

# No deadline anywhere: two processes share two cores, and a slow example is no wrong example.
settings.register_profile("ci", deadline=None, derandomize=True, max_examples=60, print_blob=True)
settings.register_profile("desk", deadline=None, max_examples=60)
settings.register_profile("long", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "desk"))


@pytest.fixture(autouse=True, scope="session")
def _a_home_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No check reads or writes what belongs to whoever runs it: settings, keys, cases."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME"):
            patch.setenv(name, str(home / name.lower()))
        yield


@pytest.fixture(autouse=True)
def _seeds() -> None:
    """Nothing here should draw from the global generators; whatever does, draws the same in every order of tests."""
    random.seed(20260101)
    np.random.seed(20260101)
