"""What goes when somebody wants to be forgotten, besides their cases, and when.

Decided here and nowhere else:
- what was written to and by them goes at once; where they are reached goes with the last words that they are told;
- what others were told of their cases goes at once, too: others who take part in a case and the staff get messages
  about it; a message is about a case if it names its code, in what it says or in what its buttons belong to;
- they ask for nothing any more.
"""

import sys
from collections.abc import Collection

from sqlalchemy import delete, select, update

from triagebot.store.encryption import DecryptionError
from triagebot.store.grants import Grants
from triagebot.store.person_keys import throw_away
from triagebot.store.tables import cases, conversations, inbox, keys, outbox, parties, staff
from triagebot.store.transactions import Transaction, View, goes_with

#: In the place of the hash of somebody who is forgotten.
NOBODY = ""


def forget_messages(view: View, conversation: str, last: int) -> None:
    """Deletes what was written to and by somebody, up to their `last` message (by its number in the inbox). The keys of
    messages stay, under nobody's hash, so that none counts twice, until the channel has noted down that it has read
    them (`Post.read_to`). What they wrote after it has its turn yet.

    What shows the open question stays until it has lost its buttons: `drop` deletes that, too.
    """
    live = select(conversations.c.live).where(conversations.c.id == conversation, conversations.c.live.is_not(None))
    view.connection.execute(
        delete(outbox).where(outbox.c.conversation == conversation, outbox.c.id.not_in(live)),
    )
    known = (inbox.c.conversation == conversation, inbox.c.id <= last)
    view.connection.execute(update(inbox).where(*known).values(body=None, state="done", reason="", conversation=NOBODY))
    throw_away(view.connection, view.cipher, person=conversation, numbers=())
    view.forgot = True


def drop(view: View, conversation: str, last: int | None = None) -> None:
    """Deletes where somebody is reached, and whatever still went out to them: up to their `last` message, where they
    may have begun afresh since."""
    theirs = outbox.c.conversation == conversation
    view.connection.execute(delete(outbox).where(theirs, *(() if last is None else (outbox.c.id <= last,))))
    if view.connection.scalar(select(outbox.c.id).where(theirs).limit(1)) is None:
        view.connection.execute(delete(conversations).where(conversations.c.id == conversation))
        throw_away(view.connection, view.cipher, person=conversation, numbers=())
    view.forgot = True


def own_cases(view: View, person: str) -> dict[int, str]:
    """The cases that go with somebody: number and code of each."""
    found = view.connection.execute(select(cases.c.id, cases.c.code).where(cases.c.id.in_(goes_with(person))))
    return {row.id: row.code for row in found}


def take_back_messages(view: View, person: str, own: dict[int, str]) -> tuple[str, ...]:
    """Deletes what was written to others about these cases, and ends what `person` asked about cases of others; gives
    the others who take part. To be called before the cases are deleted."""
    Grants(view).end_of("join", "mark", person)
    Grants(view).end_of("export", "person", person)
    beside = select(parties.c.person).where(parties.c.case_id.in_(own), parties.c.person != person).distinct()
    others = tuple(view.connection.scalars(beside))
    if own:
        told = {*others, *view.connection.scalars(select(staff.c.person))} - {person}
        _take_back(view, told, own.values())
    return others


def _take_back(view: View, persons: Collection[str], codes: Collection[str]) -> None:
    about = [
        row.id
        for row in view.connection.execute(select(outbox.c.id, outbox.c.body).where(outbox.c.conversation.in_(persons)))
        if _names(view, row.body, codes)
    ]
    shows = (conversations.c.id.in_(persons), conversations.c.live.in_(about))
    view.connection.execute(update(conversations).where(*shows).values(live=None))
    theirs = outbox.c.conversation.in_(persons)
    view.connection.execute(delete(outbox).where(theirs, outbox.c.id.in_(about) | outbox.c.about.in_(about)))


def _names(view: View, body: str, codes: Collection[str]) -> bool:
    try:
        said = view.cipher.decrypt(body)
    except DecryptionError:  # nobody reads it any more
        return False
    return any(code in said for code in codes)


def forget_again(tx: Transaction, ids: Collection[str]) -> int:
    """Forgets those whose keys were thrown away since, in a copy of the database from before; gives how many people
    and cases those were."""
    held = tx.connection.execute(select(keys.c.id, keys.c.case_id, keys.c.person)).all()
    gone = [row for row in held if row.id in ids]
    people = {row.person for row in gone if row.person is not None}
    numbers = [row.case_id for row in gone if row.case_id is not None]
    for person in people:
        own = own_cases(tx, person)
        take_back_messages(tx, person, own)
        tx.forget_everything(person)
        forget_messages(tx, person, sys.maxsize)
        drop(tx, person, sys.maxsize)
    for number in numbers:
        code = tx.code_of(number)
        if code:
            take_back_messages(tx, NOBODY, {number: code})
            tx.connection.execute(delete(cases).where(cases.c.id == number))
    tx.connection.execute(delete(keys).where(keys.c.id.in_([row.id for row in gone])))
    tx.forgot = tx.forgot or bool(gone)
    return len(gone)
