"""What parts.yaml may say: what a shop sells in place of what comes off."""

from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from triagebot.shop.schema import Id, Line, Money, Row

#: The question of a topic that counts the sprockets.
SPROCKETS = "sprockets"
#: No wheel has more of them.
MOST_SPROCKETS = 14


class ReplacementPart(Row):
    """Something that replaces what comes off: for fastenings by id or by system, and for so many `sprockets` (any, if
    none are said). `thread` is that of the hub which it screws on to, in words. `in_stock`: how many lie there."""

    id: Id
    name: Line
    fastenings: tuple[Id, ...] = ()
    systems: tuple[Id, ...] = ()
    sprockets: Annotated[
        tuple[Annotated[int, Field(ge=1, le=MOST_SPROCKETS)], ...],
        BeforeValidator(lambda value: value if isinstance(value, list | tuple) else [value]),
    ] = ()
    thread: Line | None = None
    price: Money | None = None
    in_stock: Annotated[int, Field(ge=0, le=1000)] = 0

    @model_validator(mode="after")
    def _says_what_for(self) -> "ReplacementPart":
        if not self.fastenings and not self.systems:
            raise ValueError("say which fastenings or systems this is for")
        return self


class PartsFile(Row):
    """parts.yaml, which a shop may leave out."""

    parts: tuple[ReplacementPart, ...] = ()
