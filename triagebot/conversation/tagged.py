"""How frozen values of several classes are stored: as JSON objects that name their class."""

import re
from typing import Any, get_args

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema


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
