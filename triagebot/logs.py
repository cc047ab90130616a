"""What is written to the log, and how: as lines to read, or as JSON, one object a line.

Decided here and nowhere else: libraries speak only when something is wrong, whatever level is set; and an error is told
by its kind and place in our code, never by its own words, which may be those of people.
"""

import json
import logging
import sys
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

from triagebot.delivery.counts import place_of

LEVELS, FORMATS = ("debug", "info", "warning", "error"), ("text", "json")

#: Of which branch what is going on is; "" where there is one shop, and for what is of none.
BRANCH: ContextVar[str] = ContextVar("branch", default="")


def log_to(stream: Any = None, level: str = "info", form: str = "text") -> None:
    """Logs from now on to a stream (standard error, if none is given)."""
    handler = logging.StreamHandler(sys.stderr if stream is None else stream)
    handler.setFormatter(_Objects() if form == "json" else _Lines())
    root, ours = logging.getLogger(), logging.getLogger("triagebot")
    root.handlers[:] = [handler]
    weight = getattr(logging, level.upper())
    ours.setLevel(weight)
    root.setLevel(max(weight, logging.WARNING))


class _Lines(logging.Formatter):
    """Time, weight, what."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created).strftime("%Y-%m-%d %H:%M:%S")
        error = _error(record)
        branch = f"{BRANCH.get()}: " if BRANCH.get() else ""
        what = branch + record.getMessage() + (f" ({error})" if error else "")
        return f"{at},{int(record.msecs):03d} {record.levelname} {what}".replace("\n", "\\n")


class _Objects(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        told = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            "message": record.getMessage(),
        }
        if branch := BRANCH.get():
            told["branch"] = branch
        if error := _error(record):
            told["error"] = error
        return json.dumps(told, ensure_ascii=False)


def _error(record: logging.LogRecord) -> str:
    raised = record.exc_info[1] if record.exc_info else None
    return place_of(raised) if raised is not None else ""
