"""How the checks draw at random: the same draws every time in CI, fresh ones at a desk."""

import os
import random

import numpy as np
import pytest
from hypothesis import settings

# No deadline anywhere: two processes share two cores, and a slow example is no wrong example.
settings.register_profile("ci", deadline=None, derandomize=True, max_examples=60, print_blob=True)
settings.register_profile("desk", deadline=None, max_examples=60)
settings.register_profile("long", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "desk"))


@pytest.fixture(autouse=True)
def _seeds() -> None:
    """Nothing here should draw from the global generators; whatever does, draws the same in every order of tests."""
    random.seed(20260101)
    np.random.seed(20260101)
