"""Events as JSON objects and back, for the store. The `kind` of an event is its name in lower case with hyphens.

A row of the store also holds what the event came of (`BESIDE`), which is not read here.
"""

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any

from pydantic import ConfigDict, TypeAdapter, ValidationError

from triagebot.conversation.events import Event
from triagebot.conversation.tagged import Tagged

#: The key of the message, the press, the album or the files that made an event.
BESIDE = frozenset({"message", "press", "album", "files"})

#: What is wrong with a stored event, by the name that the library gives to the error.
_WRONG = {
    "union_tag_invalid": "unknown kind: written by a newer triagebot?",
    "union_tag_not_found": "unknown kind: written by a newer triagebot?",
    "unexpected_keyword_argument": "unknown field: written by a newer triagebot?",
    "missing": "lacks this field",
}


@cache
def _events() -> TypeAdapter[Event]:
    return TypeAdapter(Annotated[Event, Tagged("kind")], config=ConfigDict(extra="forbid"))


def to_json(event: Event) -> dict[str, Any]:
    """An event as a JSON object: `kind`, `at` (ISO 8601 with offset) and its fields."""
    written: dict[str, Any] = _events().dump_python(event, mode="json", by_alias=True)
    return written | {"at": event.at.isoformat()}


def from_json(data: Mapping[str, Any]) -> Event:
    """The event that `to_json` wrote. Raises ValueError naming what is not known or missing."""
    try:
        return _events().validate_python({name: part for name, part in data.items() if name not in BESIDE})
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or data.get("kind", "without a kind")
        raise ValueError(f"event {place!r}: {_WRONG.get(first['type'], first['msg'])}") from error
