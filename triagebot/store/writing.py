"""How texts, times and events are written in the database, so that whatever somebody typed comes back as it was.

Texts are JSON strings without their quotation marks: readable as they are, while what no database takes (a null
character, half of a surrogate pair) is escaped. Events are JSON objects with sorted keys.
"""

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import DateTime, Dialect, Text, TypeDecorator

if TYPE_CHECKING:
    from triagebot.store.encryption import Cipher

_HALF_PAIR = re.compile("[\ud800-\udfff]")
#: What JSON holds as it is, and we, too: marks, ids, kinds.
_AS_IT_IS = re.compile(r"[ !#-\[\]-~]*")
_JSON = json.JSONEncoder(ensure_ascii=False, sort_keys=True, allow_nan=False, separators=(",", ":"))


def json_text(value: object) -> str:
    """`value` as JSON with sorted keys, in characters that every database takes.

    Raises ValueError for what JSON cannot hold (NaN, an infinity), TypeError for what is no JSON value at all.
    """
    text = _JSON.encode(value)
    return text if text.isascii() else _HALF_PAIR.sub(lambda half: f"\\u{ord(half[0]):04x}", text)


def encrypted_json(cipher: "Cipher", value: Mapping[str, Any]) -> str:
    """A JSON object, closed. Raises as `json_text` does."""
    return cipher.encrypt(json_text(dict(value)))


def decrypted_json(cipher: "Cipher", closed: str) -> dict[str, Any]:
    """What `encrypted_json` closed. Raises DecryptionError."""
    opened = json.loads(cipher.decrypt(closed))
    assert isinstance(opened, dict)
    return opened


def event_text(event: Mapping[str, Any]) -> str:
    """An event as it is stored. Raises ValueError unless it has a `kind` and an `at` with its offset from UTC."""
    kind, at = event.get("kind"), event.get("at")
    if not (isinstance(kind, str) and kind):
        raise ValueError(f"an event needs a kind: {event!r}")
    if not isinstance(at, str) or datetime.fromisoformat(at).tzinfo is None:
        raise ValueError(f"event {kind!r} needs `at`, an ISO 8601 time with offset, not {at!r}")
    return json_text(dict(event))


def event_of(text: str) -> dict[str, Any]:
    """The event that `event_text` wrote. Raises ValueError when it is no JSON object."""
    event = json.loads(text)
    if not isinstance(event, dict):
        raise ValueError("not a JSON object")
    return event


class Characters(TypeDecorator[str]):
    """Any text that somebody may have typed."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None or _AS_IT_IS.fullmatch(value):
            return value
        return json_text(value)[1:-1]

    def process_result_value(self, value: str | None, dialect: Dialect) -> str | None:
        if value is None or "\\" not in value:
            return value
        return str(json.loads(f'"{value}"'))


class Instant(TypeDecorator[datetime]):
    """A moment; given with any offset, stored and handed out in UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value!r} says no offset from UTC")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
