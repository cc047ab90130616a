"""The photos of a case as they are kept, for tests to look at."""

from typing import NamedTuple

from sqlalchemy import select

from triagebot.store import View
from triagebot.store.tables import photos


class KeptPhoto(NamedTuple):
    """`picture`, a JPEG, is None while it is not there; `reason` says why it never will be."""

    id: int
    state: str
    picture: bytes | None
    reason: str


def photos_of(view: View, case_id: int) -> list[KeptPhoto]:
    """Oldest first."""
    found = select(photos.c.id, photos.c.state, photos.c.body, photos.c.reason).where(photos.c.case_id == case_id)
    rows = view.connection.execute(found.order_by(photos.c.id)).all()
    decrypted = (None if row.body is None else view.cipher.decrypt_bytes(row.body) for row in rows)
    return [KeptPhoto(row.id, row.state, picture, row.reason) for row, picture in zip(rows, decrypted, strict=True)]
