"""Photos that people sent for the member who looks at their wheel; read and written inside one transaction.

The states of a photo; its place on the channel and the picture itself are encrypted:

    waiting -> kept      it was fetched; `body` is the picture (one that is handed over whole never waits)
    waiting -> lost      it cannot be had: the reason says why

A photo belongs to its case and is deleted with it.
"""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import func, insert, select, update

from triagebot.store.encryption import DecryptionError
from triagebot.store.tables import photos
from triagebot.store.transactions import View

#: So many photos are kept of one case.
MOST_OF_A_CASE = 50
#: Why a picture cannot be had: the channel will not give it; it is over a limit; it is none that can be read, or only a
#: part of one, or of a kind that is not read, or nothing at all; it could not be fetched in time; the case has enough;
#: we fail on it again and again; its row was damaged.
Lost = Literal[
    "refused", "too-large", "no-picture", "broken", "heic", "empty", "too-late", "too-many", "faulty", "unreadable"
]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A photo that is to be fetched from its `place` on the channel.

    `attempts` counts those that were begun and came to no end, this one among them; `beside` is how many photos of the
    same case are kept.
    """

    id: int
    place: Mapping[str, Any]
    sent_at: datetime
    attempts: int
    beside: int


class Photos:
    """The photos, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def sent(self, case_id: int, channel: str, place: Mapping[str, Any], at: datetime) -> int:
        """A photo came that is to be fetched; gives its number."""
        row = {
            "case_id": case_id,
            "channel": channel,
            "place": self.cipher.of_case(case_id).encrypt_json(place),
            "sent_at": at,
            "state": "waiting",
            "attempts": 0,
            "reason": "",
            "body": None,
        }
        return int(self.connection.scalar(insert(photos).returning(photos.c.id), row) or 0)

    def handed(
        self, case_id: int, channel: str, picture: bytes, at: datetime, most: int, place: Mapping[str, Any]
    ) -> int | None:
        """A photo came as the picture that is kept of it; gives its number. It is lost when `most` of its case are kept
        already. `place` is what else is known of it."""
        kept = select(func.count()).where(photos.c.case_id == case_id, photos.c.state == "kept")
        number = self.sent(case_id, channel, place, at)
        if (self.connection.scalar(kept) or 0) >= most:
            self.lost(number, "too-many")
            return None
        self.kept(number, picture)
        return number

    def waiting(self, channel: str) -> tuple[int, ...]:
        """The photos of a channel that are to be fetched, by number, oldest first."""
        found = select(photos.c.id).where(photos.c.channel == channel, photos.c.state == "waiting")
        return tuple(self.connection.scalars(found.order_by(photos.c.id)))

    def begin(self, number: int) -> Waiting | None:
        """Counts an attempt that begins; None when the photo waits no more, or its case was forgotten.

        One whose place cannot be read is lost."""
        if not self._change(number, attempts=photos.c.attempts + 1):
            return None
        row = self.connection.execute(select(photos).where(photos.c.id == number)).one()
        try:
            place = self.cipher.decrypt_json(row.place)
        except DecryptionError:
            self.lost(number, "unreadable")
            return None
        beside = select(func.count()).where(photos.c.case_id == row.case_id, photos.c.state == "kept")
        return Waiting(number, place, row.sent_at, row.attempts, self.connection.scalar(beside) or 0)

    def later(self, number: int) -> None:
        """The attempt came to an end, and another one may come to a better: it does not count."""
        self._change(number, attempts=photos.c.attempts - 1)

    def kept(self, number: int, picture: bytes) -> bool:
        """The picture is there. Gives False when its case was forgotten meanwhile."""
        of = self._case(number)
        return of is not None and self._change(
            number, state="kept", body=self.cipher.of_case(of).encrypt_bytes(picture)
        )

    def lost(self, number: int, reason: Lost) -> bool:
        """The picture cannot be had. Gives False when its case was forgotten meanwhile."""
        return self._change(number, state="lost", reason=reason)

    def count(self, case_id: int) -> int:
        """How many photos of a case are kept, or may still be had."""
        which = (photos.c.case_id == case_id, photos.c.state != "lost")
        return self.connection.scalar(select(func.count()).where(*which)) or 0

    def kept_of(self, case_id: int) -> tuple[int, ...]:
        """The photos of a case whose pictures are there, by number, oldest first."""
        found = select(photos.c.id).where(photos.c.case_id == case_id, photos.c.state == "kept")
        return tuple(self.connection.scalars(found.order_by(photos.c.id)))

    def album(self, case_id: int, album: str) -> tuple[tuple[int, str, Mapping[str, Any]], ...]:
        """The photos of a case of which their place says that they belong to this album: number, state and place."""
        rows = self.connection.execute(
            select(photos.c.id, photos.c.state, photos.c.place).where(photos.c.case_id == case_id).order_by(photos.c.id)
        )
        found = []
        for row in rows:
            with suppress(DecryptionError):
                place = self.cipher.decrypt_json(row.place)
                if place.get("album") == album:
                    found.append((row.id, row.state, place))
        return tuple(found)

    def put_at(self, number: int, place: Mapping[str, Any]) -> None:
        """Changes what is kept beside where a photo lies."""
        if (of := self._case(number)) is not None:
            closed = self.cipher.of_case(of).encrypt_json(place)
            self.connection.execute(update(photos).where(photos.c.id == number).values(place=closed))

    def whose(self, number: int) -> tuple[int, Mapping[str, Any]] | None:
        """The case of a photo, and its place on its channel; None where there is none, or the place is damaged."""
        row = self.connection.execute(select(photos.c.case_id, photos.c.place).where(photos.c.id == number)).first()
        try:
            return None if row is None else (row.case_id, self.cipher.decrypt_json(row.place))
        except DecryptionError:
            return None

    def reason(self, number: int) -> str:
        """Why a photo is lost; "" for one that is not."""
        return self.connection.scalar(select(photos.c.reason).where(photos.c.id == number)) or ""

    def picture(self, number: int) -> bytes | None:
        """A picture that is kept; None where it is not there."""
        body = self.connection.scalar(select(photos.c.body).where(photos.c.id == number))
        return None if body is None else self.cipher.decrypt_bytes(body)

    def _case(self, number: int) -> int | None:
        return self.connection.scalar(select(photos.c.case_id).where(photos.c.id == number))

    def _change(self, number: int, **values: Any) -> bool:
        """Changes a photo that waits; gives whether there was one."""
        which = update(photos).where(photos.c.id == number, photos.c.state == "waiting")
        return self.connection.execute(which.values(**values)).rowcount == 1
