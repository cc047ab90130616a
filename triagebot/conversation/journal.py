"""Events as JSON objects and back, for the store. The `kind` of an event is its name in lower case with hyphens.

A row of the store also holds what the event came of (`BESIDE`), which is not read here.
"""

import re
from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any, cast, get_args

from triagebot.conversation.events import Event
from triagebot.conversation.understood import Fact, Puzzle
from triagebot.identify import readings

#: The key of the message, the press, the album or the files that made an event.
BESIDE = frozenset({"message", "press", "album", "files"})

_EVENTS = get_args(Event)
_PARTS = (
    Fact,
    Puzzle,
    readings.ChoiceReading,
    readings.CountReading,
    readings.SizeReading,
    readings.BoundReading,
    readings.UnsureReading,
)


def _kind(cls: type) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", "-", cls.__name__).lower()


_BY_KIND: Mapping[str, Any] = {_kind(cls): cls for cls in (*_EVENTS, *_PARTS)}


def to_json(event: Event) -> dict[str, Any]:
    """An event as a JSON object: `kind`, `at` (ISO 8601 with offset) and its fields."""
    written = _write(event)
    assert isinstance(written, dict)
    return written


def from_json(data: Mapping[str, Any]) -> Event:
    """The event that `to_json` wrote. Raises ValueError naming what is not known or missing."""
    event = _read({name: part for name, part in data.items() if name not in BESIDE})
    if not isinstance(event, _EVENTS):
        raise ValueError(f"not an event: {data.get('kind')!r}")
    return cast(Event, event)


def _write(value: object) -> Any:
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_write(part) for part in value]
    if type(value) in _EVENTS or type(value) in _PARTS:
        own = {field.name: _write(getattr(value, field.name)) for field in fields(value)}  # type: ignore[arg-type]
        # a puzzle has a kind of its own
        return {"kind": _kind(type(value)), **{("of" if name == "kind" else name): part for name, part in own.items()}}
    return value


def _read(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(_read(part) for part in value)
    if not isinstance(value, Mapping):
        return value
    cls = _BY_KIND.get(str(value.get("kind")))
    if cls is None:
        raise ValueError(f"unknown kind {value.get('kind')!r}: written by a newer triagebot?")
    known = {field.name for field in fields(cls)}
    parts = {("kind" if name == "of" else name): _read(part) for name, part in value.items() if name != "kind"}
    if unknown := sorted(set(parts) - known):
        raise ValueError(f"unknown field {unknown[0]!r} in {value['kind']!r}: written by a newer triagebot?")
    if "at" in parts:
        parts["at"] = datetime.fromisoformat(parts["at"])
    try:
        return cls(**parts)
    except TypeError as error:
        raise ValueError(f"{value['kind']!r} lacks a field: {error}") from error
