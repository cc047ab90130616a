"""What the head of a procedure note may say. Its words are checked against the topic in `agreement.py`."""

from typing import Annotated

from pydantic import Field, model_validator

from triagebot.shop.schema import Day, Id, Language, Line, Row, Slug


class ShopStep(Row):
    """A step of a procedure as this shop does it, in the note's language: in place of the words of the topic's step
    (`instead-of`), or `after` that step. Cautions are added, never taken away. `id` names a step that is added."""

    text: Annotated[str, Field(min_length=1, max_length=400)]
    instead_of: Id | None = None
    after: Id | None = None
    id: Id = "own"
    cautions: tuple[Id, ...] = ()

    @model_validator(mode="after")
    def _one_place(self) -> "ShopStep":
        if (self.instead_of is None) == (self.after is None):
            raise ValueError("say either instead-of or after: the id of a step in the topic's procedures.yaml")
        return self


class FrontMatter(Row):
    """The head of a procedure note. `answers`: also shown to people who gave one of these answers (question: choices).

    `slug` is the note's name in addresses; the file's own name if not given. `reviewed_by` is a role, not a name.
    `sections`: where in the note to begin reading about one of its fastenings, if not at its top.
    """

    title: Line
    language: Language
    slug: Slug | None = None
    fastenings: tuple[Id, ...] = ()
    removers: tuple[Id, ...] = ()
    answers: dict[Id, tuple[Id, ...]] = Field(default={})
    sections: dict[Id, Line] = Field(default={})
    steps: tuple[ShopStep, ...] = ()
    reviewed_on: Day | None = None
    reviewed_by: Line | None = None

    @model_validator(mode="after")
    def _reviewed_by_whom(self) -> "FrontMatter":
        if (self.reviewed_on is None) != (self.reviewed_by is None):
            raise ValueError("reviewed-on (a date) and reviewed-by (a role) go together")
        return self

    @model_validator(mode="after")
    def _sections_of_its_own(self) -> "FrontMatter":
        strangers = [fastening for fastening in self.sections if fastening not in self.fastenings]
        if strangers:
            raise ValueError(f"sections names {strangers[0]!r}, which is not among this note's fastenings")
        return self
