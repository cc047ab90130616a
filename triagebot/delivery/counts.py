"""What the delivery counts, and how it names errors and people in its log: never their words, never who they are."""

from dataclasses import dataclass, field
from pathlib import Path
from traceback import extract_tb

_PACKAGE = Path(__file__).parents[1]


@dataclass(slots=True)
class Counts:
    """Since the delivery was opened. `unknown` were being sent when the process before ended; `repeated` of them were
    sent once more. `tidied`: what was deleted since it was kept for long enough, by its kind."""

    received: int = 0
    duplicates: int = 0
    passed_over: int = 0
    stale: int = 0
    doubles: int = 0
    failed_turns: int = 0
    set_aside: int = 0
    sent: int = 0
    retried: int = 0
    refused: int = 0
    gone: int = 0
    unknown: int = 0
    repeated: int = 0
    photos_kept: int = 0
    photos_lost: int = 0
    tidied: dict[str, int] = field(default_factory=dict)


def place_of(error: BaseException) -> str:
    """An error by its kind and the place in our code where it was raised: "ValueError at turns/plan.py:88"."""
    own = [frame for frame in extract_tb(error.__traceback__) if Path(frame.filename).is_relative_to(_PACKAGE)]
    kind = type(error).__name__
    return f"{kind} at {Path(own[-1].filename).relative_to(_PACKAGE).as_posix()}:{own[-1].lineno}" if own else kind


def short(conversation: str) -> str:
    """A conversation as the log speaks of it: the beginning of its hash."""
    return conversation[:8]


def messages(count: int) -> str:
    """So many, as the log says it."""
    return "1 message" if count == 1 else f"{count} messages"
