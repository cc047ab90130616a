"""What somebody who runs the bot is told of one thing that was looked at."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """What was looked at, whether it is well, and what is so, with what to do about it where it is not."""

    what: str
    well: bool
    said: str
