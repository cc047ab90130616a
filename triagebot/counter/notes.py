"""Notes that staff put on a case, for each other: "note CODE pays cash". Whose case it is never reads them."""

from typing import TYPE_CHECKING

from triagebot.counter.work import Attended, Work, answer
from triagebot.store.staff import Staff

if TYPE_CHECKING:
    from triagebot.store import StoredCase

#: What the deed of a note is called.
NOTED = "noted"
#: So much of a note is kept, and so many notes are shown, the newest.
LONGEST, MOST_SHOWN = 500, 6


def note(work: Work, stored: "StoredCase", rest: str) -> Attended:
    """Puts a note on a case."""
    text = rest.strip(" :,-")[:LONGEST]
    if not text:
        return answer(work.texts("staff-note-what", code=stored.code))
    work.did(NOTED, stored.id, text=text)
    return answer(work.texts("staff-note-kept", code=stored.code, text=text))


def noted(work: Work, number: int) -> list[str]:
    """The notes on a case, the oldest first."""
    notes = [deed for deed in Staff(work.tx).deeds(number) if deed.what == NOTED][-MOST_SHOWN:]
    return [
        work.texts("staff-noted", at=work.when(deed.at), name=deed.name, text=str(dict(deed.told)["text"]))
        for deed in notes
    ]
