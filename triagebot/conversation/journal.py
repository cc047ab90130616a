"""How frozen values of several classes are stored: as JSON objects that name their class."""

import re
from collections.abc import Mapping
from functools import cached_property
from typing import Annotated, Any, Generic, TypeVar, get_args

from pydantic import ConfigDict, GetCoreSchemaHandler, TypeAdapter, ValidationError
from pydantic_core import CoreSchema, core_schema

#: The key of the message, the press, the album or the files that made an event: a row of the store holds it besides.
BESIDE = frozenset({"message", "press", "album", "files"})

#: What is wrong with a stored event, by the name that the library gives to the error.
_WRONG = {
    "union_tag_invalid": "unknown kind: written by a newer triagebot?",
    "union_tag_not_found": "unknown kind: written by a newer triagebot?",
    "unexpected_keyword_argument": "unknown field: written by a newer triagebot?",
    "missing": "lacks this field",
}

E = TypeVar("E")


def name_of(kind: type) -> str:
    """A class's name in lower case with hyphens, as stored data have it."""
    return re.sub(r"(?<!^)(?=[A-Z])", "-", kind.__name__).lower()


class Tagged:
    """Marks a class or a union of classes, `Annotated[A | B, Tagged("kind")]`, whose values are stored with the name of
    their class under this key."""

    def __init__(self, key: str) -> None:
        self.key = key

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        names = {kind: name_of(kind) for kind in get_args(source) or (source,)}

        def named(value: Any, written: core_schema.SerializerFunctionWrapHandler) -> dict[str, Any]:
            return {self.key: names[type(value)], **written(value)}

        def without_name(data: Any) -> Any:
            if isinstance(data, dict):
                return {name: part for name, part in data.items() if name != self.key}
            return data

        def tag(data: Any) -> str | None:
            return data.get(self.key) if isinstance(data, dict) else names.get(type(data))

        choices: dict[Any, CoreSchema] = {
            name: core_schema.no_info_before_validator_function(without_name, handler.generate_schema(kind))
            for kind, name in names.items()
        }
        return core_schema.tagged_union_schema(
            choices, tag, serialization=core_schema.wrap_serializer_function_ser_schema(named)
        )


class Journal(Generic[E]):
    """Events of these classes, a union, as JSON objects and back, for the store."""

    def __init__(self, events: Any) -> None:
        self._union = events

    @cached_property
    def _events(self) -> TypeAdapter[E]:
        tagged: Any = Annotated[self._union, Tagged("kind")]
        return TypeAdapter(tagged, config=ConfigDict(extra="forbid"))

    def to_json(self, event: E) -> dict[str, Any]:
        """An event as a JSON object: `kind`, `at` (ISO 8601 with offset) and its fields."""
        written: dict[str, Any] = self._events.dump_python(event, mode="json", by_alias=True)
        return written | {"at": event.at.isoformat()}  # type: ignore[attr-defined]

    def from_json(self, data: Mapping[str, Any]) -> E:
        """The event that `to_json` wrote. Raises ValueError naming what is not known or missing."""
        try:
            return self._events.validate_python({name: part for name, part in data.items() if name not in BESIDE})
        except ValidationError as error:
            first = error.errors()[0]
            place = ".".join(str(part) for part in first["loc"]) or data.get("kind", "without a kind")
            raise ValueError(f"event {place!r}: {_WRONG.get(first['type'], first['msg'])}") from error
