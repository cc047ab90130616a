"""What the store hands out: plain frozen values that know nothing of the database."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class StoredCase:
    """One case as it was written: `events` are the JSON objects given to `append`, oldest first.

    The next event's number is `len(events)`. `opened_at` is in UTC. `person` is a mark (see `seals`), no name.
    """

    id: int
    person: str
    code: str
    topic: str
    opened_at: datetime
    events: tuple[Mapping[str, Any], ...]
