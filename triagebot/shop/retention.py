"""What is kept of people and for how long, as `retention.yaml` says it and a shop may shorten it."""

from collections.abc import Mapping
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

from triagebot.topics import read_yaml

TABLE = Path(__file__).with_name("retention.yaml")


class Kept(BaseModel):
    """One row. One of `days`, `goes_with` and `by` is given; `least` goes with `days`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str
    days: Annotated[int, Field(ge=1)] | None = None
    least: Annotated[int, Field(ge=1)] = 1
    goes_with: Annotated[str | None, Field(alias="with")] = None
    by: str | None = None

    @model_validator(mode="after")
    def _one_way(self) -> "Kept":
        if sum(each is not None for each in (self.days, self.goes_with, self.by)) != 1:
            raise ValueError("give one of days, with and by")
        return self


@cache
def retention() -> Mapping[str, Kept]:
    """The rows by their ids, in the order of the file."""
    content, _ = read_yaml(TABLE)
    rows = (Kept.model_validate(row) for row in content["kept"])
    return {row.id: row for row in rows}


def shortened(days: Any) -> Any:
    """The days of a shop's own. Raises ValueError for a row that is not there or has no days, and for days that are
    out of its range."""
    for name, given in days.items() if isinstance(days, dict) else ():
        row = retention().get(name)
        if row is None or row.days is None:
            known = ", ".join(row.id for row in retention().values() if row.days is not None)
            raise ValueError(f"nothing is kept by days under {name!r}; what is: {known}")
        if isinstance(given, int) and not row.least <= given <= row.days:
            raise ValueError(f"{name} are kept for {row.least} to {row.days} days; {given} is not one of these")
    return days


def kept_for(own: Mapping[str, int]) -> dict[str, timedelta]:
    """For how long each kind is kept that goes by days, with a shop's `own` days."""
    return {row.id: timedelta(days=own.get(row.id, row.days)) for row in retention().values() if row.days is not None}
