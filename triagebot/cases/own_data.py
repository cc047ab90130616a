"""What is kept of somebody, for themselves: a JSON object, and their photos beside it.

Rules of this file: there is nothing of others in it. Members of the staff are "the shop"; what a mentor said is not in
their rider's, nor the other way round; a case that somebody only helps with is there by its code and the name that they
gave it.
"""

import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from triagebot.cases.loaded import unfolded
from triagebot.cases.photo_places import SENDER
from triagebot.cases.thread import thread_of
from triagebot.conversation import Guide
from triagebot.conversation.blocks import Attachment, Block, CardLink, Remark
from triagebot.conversation.events import Answered, Closed, Handed, Returned, to_json
from triagebot.conversation.housekeeping import EXPORT
from triagebot.store.bikes import Bikes
from triagebot.store.forgetting import own_cases
from triagebot.store.grants import Grants
from triagebot.store.loans import Loans
from triagebot.store.photos import Photos
from triagebot.store.requests import Requests
from triagebot.store.tables import outbox, parties, photos
from triagebot.topics import Texts

if TYPE_CHECKING:
    from triagebot.store import Transaction, View

NAME = "my-data.json"
#: How long the address of the file counts.
LASTS = timedelta(days=1)
#: Channels on which a file goes with the message.
_WITH_FILES = frozenset({"telegram", "matrix"})


def own_data(view: "View", person: str, now: datetime) -> dict[str, Any]:
    """All that is kept of a person, by their hash."""
    own = own_cases(view, person)
    parts = view.connection.execute(select(parties).where(parties.c.person == person)).all()
    helped = [row for row in parts if row.role == "mentor" and row.case_id not in own]
    called = [view.cipher.decrypt_json(row.body).get("name", "") if row.body else "" for row in helped]
    sent = select(func.count()).where(outbox.c.conversation == person)
    return {
        "made": now.isoformat(),
        "cases": [_case(view, number, person) for number in own],
        "helping": [
            {"case": view.code_of(row.case_id), "called": name} for row, name in zip(helped, called, strict=True)
        ],
        "messages of mine that are kept": view.connection.scalar(sent) or 0,
    }


def as_json(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def as_zip(view: "View", person: str, now: datetime) -> bytes:
    """The same with the photos."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(NAME, as_json(own_data(view, person, now)))
        for number in own_cases(view, person):
            for photo in _own_photos(view, number, person):
                if photo.state == "kept":
                    archive.writestr(_file(photo.id), Photos(view).picture(photo.id) or b"")
    return file.getvalue()


def handed_over(
    tx: "Transaction", guide: Guide, texts: Texts, person: str, channel: str, now: datetime
) -> tuple[Block, ...]:
    """The file with the message where the channel takes one, and where it is on the pages with the photos; in words
    where there is neither."""
    content = as_json(own_data(tx, person, now))
    if guide.address is None:
        return (Attachment(NAME, content),) if channel in _WITH_FILES else (Remark(content, EXPORT),)
    url = f"{guide.address}/export/{Grants(tx).issue('export', None, {'person': person}, now, now + LASTS)}.zip"
    link = CardLink(texts("export-link", url=url), url)
    return (link, Attachment(NAME, content)) if channel in _WITH_FILES else (link,)


def whose(view: "View", secret: str, now: datetime) -> str | None:
    """The person whose data a secret gives; None for one that gives none."""
    grant = Grants(view).find("export", secret, now)
    return None if grant is None else str(grant.body["person"])


def _case(view: "View", number: int, person: str) -> dict[str, Any]:
    stored = view.case(number)
    assert stored is not None, "it was found in the same transaction"
    case = unfolded(stored).case
    shared = len(view.parties(number)) > 1
    bike = Bikes(view).of(number)
    return {
        "code": stored.code,
        "begun": stored.opened_at.isoformat(),
        "happened": list(_events(case.events, shared=shared)),
        "written": [
            {"at": words.at.isoformat(), "from": "the shop" if words.name else "you", "text": words.text}
            for words in thread_of(view, number, case)
        ],
        "photos": [
            {"sent": photo.sent_at.isoformat(), "file": _file(photo.id) if photo.state == "kept" else None}
            for photo in _own_photos(view, number, person)
        ],
        "asked for": [
            {"at": asked.asked_at.isoformat(), "text": asked.text, "what": asked.what, "state": asked.state}
            for asked in Requests(view).of(number, "asked", "yes", "no", "over")
        ],
        "lent to you": [
            {"tool": loan.tool, "since": loan.since.isoformat(), "due back": loan.due and loan.due.isoformat()}
            for loan in Loans(view).of(number)
        ],
        "bike": None
        if bike is None
        else {"what": bike.what, "whose": bike.whose, "contact": bike.contact, "note": bike.note},
    }


def _events(events: Any, *, shared: bool) -> Iterator[dict[str, Any]]:
    for event in events:
        if isinstance(event, Handed | Returned) or (isinstance(event, Answered) and event.by == "mentor"):
            continue
        row = to_json(event)
        if isinstance(event, Closed):
            row.pop("by", None)
        if shared and not isinstance(event, Answered):  # it is not known which of the two said it
            row.pop("text", None)
        yield row


def _own_photos(view: "View", number: int, person: str) -> Iterator[Any]:
    """The photos of a case that this person sent."""
    found = select(photos.c.id, photos.c.state, photos.c.sent_at, photos.c.place).where(photos.c.case_id == number)
    for row in view.connection.execute(found.order_by(photos.c.id)):
        place = view.cipher.decrypt_json(row.place)
        if "by" not in place and place.get(SENDER, person) == person:
            yield row


def _file(number: int) -> str:
    return f"photo-{number}.jpg"
