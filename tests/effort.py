"""How much a run tries. An ordinary run tries the same few hundred cases each time and takes minutes.

`HYPOTHESIS_PROFILE=long bash tests/run.sh -k …` tries many more, and other ones each time: before a release, and after
a change to what people may say.
"""

import os
from typing import TypeVar

T = TypeVar("T")

LONG = os.environ.get("HYPOTHESIS_PROFILE") == "long"


def effort(short: T, long: T) -> T:
    """What an ordinary run takes, and what a long one takes instead."""
    return long if LONG else short
