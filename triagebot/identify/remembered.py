"""Caches what follows from a model and readings alone.

One turn needs the same belief several times, and people's first answers are alike. Callers share the results, so their
arrays are read-only.
"""

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])

#: Results kept for each function; the least recently used is forgotten first.
MOST = 1024

_forgetters: list[Callable[[], None]] = []


def forget() -> None:
    """Forget every result; for measuring what it costs to work one out."""
    for clear in _forgetters:
        clear()


def remembered(work: F) -> F:
    """`work` on a model (the same object, not an equal one) and sequences of frozen values."""
    known = lru_cache(MOST)(work)
    _forgetters.append(known.cache_clear)

    @wraps(work)
    def asked(model: Any, *sequences: Any) -> Any:
        return known(model, *map(tuple, sequences))

    return cast(F, asked)
