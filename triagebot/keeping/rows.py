"""One row of a check: whether a thing is well, and what to do if it is not."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """What was looked at, whether it is well, and what is so, with what to do about it where it is not."""

    what: str
    well: bool
    said: str
