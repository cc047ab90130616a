"""Photos that people sent, for whoever looks at their wheel; read and written inside one transaction.

Decided here and nowhere else: the states of a photo. Its place on the channel and the picture itself are closed.

    waiting -> kept      it was fetched; `body` is the picture
    waiting -> lost      it cannot be had: the reason says why

A photo belongs to its case and is deleted with it.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import insert, select, update

from triagebot.store.cases import View
from triagebot.store.tables import photos
from triagebot.store.writing import json_text


@dataclass(frozen=True, slots=True)
class Waiting:
    """A photo that is to be fetched from its `place` on the channel; `attempts` so far."""

    id: int
    place: Mapping[str, Any]
    attempts: int


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo of a case: `picture` is None while it is not there, and then `state` says why."""

    id: int
    sent_at: datetime
    state: str
    picture: bytes | None


class Photos:
    """The photos, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.seal = tx.seal

    def sent(self, case_id: int, channel: str, place: Mapping[str, Any], at: datetime) -> int:
        """A photo came that is to be fetched; gives its number."""
        row = {
            "case_id": case_id,
            "channel": channel,
            "place": self.seal.close(json_text(dict(place))),
            "sent_at": at,
            "state": "waiting",
            "attempts": 0,
            "reason": "",
            "body": None,
        }
        return int(self.connection.scalar(insert(photos).returning(photos.c.id), row) or 0)

    def waiting(self, channel: str, most: int) -> tuple[Waiting, ...]:
        """The photos of a channel that are to be fetched, oldest first."""
        found = select(photos.c.id, photos.c.place, photos.c.attempts)
        found = found.where(photos.c.channel == channel, photos.c.state == "waiting").order_by(photos.c.id).limit(most)
        return tuple(
            Waiting(row.id, json.loads(self.seal.open(row.place)), row.attempts)
            for row in self.connection.execute(found)
        )

    def tried(self, number: int, reason: str) -> None:
        """Another attempt failed; it may well work later."""
        change = update(photos).where(photos.c.id == number, photos.c.state == "waiting")
        self.connection.execute(change.values(attempts=photos.c.attempts + 1, reason=reason))

    def kept(self, number: int, picture: bytes) -> bool:
        """The picture is there. Gives False when its case was forgotten meanwhile."""
        change = update(photos).where(photos.c.id == number, photos.c.state == "waiting")
        change = change.values(state="kept", reason="", body=self.seal.close_bytes(picture))
        return self.connection.execute(change).rowcount == 1

    def lost(self, number: int, reason: str) -> None:
        """The picture cannot be had."""
        change = update(photos).where(photos.c.id == number, photos.c.state == "waiting")
        self.connection.execute(change.values(state="lost", reason=reason))

    def of_case(self, case_id: int) -> tuple[Photo, ...]:
        """The photos of a case, oldest first."""
        found = select(photos.c.id, photos.c.sent_at, photos.c.state, photos.c.body)
        found = found.where(photos.c.case_id == case_id).order_by(photos.c.id)
        return tuple(
            Photo(row.id, row.sent_at, row.state, None if row.body is None else self.seal.open_bytes(row.body))
            for row in self.connection.execute(found)
        )
