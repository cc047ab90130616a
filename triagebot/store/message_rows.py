"""What is kept of messages that come in and go out, as `post` reads it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class InboxRow:
    """A message that waits: `body` as it was given, `attempts` so far."""

    id: int
    body: Mapping[str, Any]
    attempts: int


@dataclass(frozen=True, slots=True)
class Correspondent:
    """Where somebody is reached; `live` is the outbox row that shows the open question, and `shown` its body and its
    receipt, both closed, if it went out."""

    channel: str
    address: Mapping[str, Any]
    live: int | None
    gone: bool
    shown: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What a message finds in its conversation. `waits`: an earlier one waits for another try; `idle`: nothing goes out
    just now, and nothing waits to."""

    waits: bool
    idle: bool
    who: Correspondent | None

    @property
    def reached(self) -> Correspondent | None:
        """Who reads what goes out there now; None where nobody does."""
        return None if self.who is None or self.who.gone else self.who


@dataclass(frozen=True, slots=True)
class OutboxRow:
    """A message that goes out. `about` is the row that it changes, with that one's `old` body and `receipt`; `more`
    says whether another one waits behind it, which is `next` if that is known."""

    id: int
    channel: str
    conversation: str
    kind: str
    body: Mapping[str, Any]
    address: Mapping[str, Any]
    attempts: int
    more: bool
    about: int | None = None
    old: Mapping[str, Any] | None = None
    receipt: Mapping[str, Any] | None = None
    next: "OutboxRow | None" = None
