"""A key for each person, and for each case: what is personal is encrypted with one of these, so that a key that is
thrown away takes it along, wherever a copy of the database lies.

Rules of this file:
- what belongs to a case is encrypted with the case's own key, since a case may be shared, and is often deleted before
  its person is; what is exchanged with somebody, with that person's. What belongs to neither (staff, tools that are
  out, receipts) is encrypted with the key file's;
- the keys lie in a table of their own, encrypted with the key file's: to change that, they alone are encrypted anew;
- a text says which key it takes: the key's id and a colon before it. Ids are drawn, and never used again;
- whose key is made has all that is there encrypted with it at once. So a store from before there were keys goes over a
  case at a time, as it is used, and the rest is seen to by the job that tidies (`triagebot tidy`);
- which keys were thrown away is written down (`forgotten_keys`), since a backup from before still holds them.
"""

import secrets
from datetime import UTC, datetime
from functools import cache
from typing import Any

from sqlalchemy import Column, Connection, Table, and_, bindparam, delete, insert, or_, select, update

from triagebot.store.database import Prepared
from triagebot.store.encryption import KEY_ID, Cipher, DecryptionError, KeyedCipher, KeyRows, Sealer
from triagebot.store.tables import (
    BLOCK,
    bikes,
    cases,
    conversations,
    deeds,
    events,
    forgotten_keys,
    grants,
    inbox,
    keys,
    outbox,
    parties,
    photos,
    requests,
    summaries,
    totals,
)

#: What is encrypted with the key of a case, and of a person: table, column, and the column that says whose it is.
OF_A_CASE: tuple[tuple[Table, str, str], ...] = (
    (events, "body", "case_id"),
    (photos, "place", "case_id"),
    (photos, "body", "case_id"),
    (grants, "body", "case_id"),
    (deeds, "body", "case_id"),
    (parties, "body", "case_id"),
    (bikes, "body", "case_id"),
    (requests, "body", "case_id"),
    (summaries, "body", "case_id"),
)
OF_A_PERSON: tuple[tuple[Table, str, str], ...] = (
    (conversations, "address", "id"),
    (inbox, "body", "conversation"),
    (outbox, "body", "conversation"),
)

_BY_ID = Prepared(select(keys.c.body).where(keys.c.id == bindparam("name")), fixed=True)
_OF_CASE = Prepared(select(keys.c.id).where(keys.c.case_id == bindparam("owner")).limit(1), of=("owner",))
_OF_PERSON = Prepared(
    select(keys.c.id).where(keys.c.person == bindparam("owner")).order_by(keys.c.id).limit(1), of=("owner",)
)
_NEW = Prepared(insert(keys), [column.name for column in keys.c], of=("case_id", "person"))


def made(cipher: KeyedCipher, connection: Connection, owner: int | str) -> Sealer:
    """A new key of a case, by its number, or a person, by their hash, without a look at what is there of them."""
    from cryptography.fernet import Fernet

    name, key = secrets.token_hex(KEY_ID // 2), Fernet.generate_key()
    case, person = (owner, None) if isinstance(owner, int) else (None, owner)
    body = cipher.encrypt(key.decode("ascii"))
    _NEW.change(connection, {"id": name, "case_id": case, "person": person, "body": body})
    return Sealer(name, Fernet(key))


def _first(cipher: KeyedCipher, connection: Connection, owner: int | str) -> Sealer:
    """The first key of somebody, with which everything is encrypted that was there before."""
    sealer = made(cipher, connection, owner)
    reseal(connection, cipher, sealer, OF_A_CASE if isinstance(owner, int) else OF_A_PERSON, owner)
    return sealer


#: How the keys are found and made, for `KeyedCipher`.
ROWS = KeyRows(_BY_ID, _OF_CASE, _OF_PERSON, _first)


@cache
def _encrypted(table: Table, name: str, of: str) -> Prepared:
    """What somebody has in a column, after the key of its row."""
    value = table.c[name]
    theirs = select(*table.primary_key.columns, value).where(table.c[of] == bindparam("owner"), value.is_not(None))
    return Prepared(theirs, of=("owner",))


def reseal(
    connection: Connection, cipher: Cipher, sealer: Sealer, columns: tuple[tuple[Table, str, str], ...],
    owner: int | str,
) -> None:  # fmt: skip
    """Encrypts with one key all that is there of somebody. What no key opens stays as it is: who needs it says so."""
    for table, name, of in columns:
        key: tuple[Column[Any], ...] = tuple(table.primary_key.columns)
        for row in _encrypted(table, name, of).all(connection, {"owner": owner}):
            try:
                text = sealer.encrypt_bytes(cipher.decrypt_bytes(row[-1]))
            except DecryptionError:
                continue
            which = and_(*(part == at for part, at in zip(key, row, strict=False)))
            connection.execute(update(table).where(which).values({name: text}))


# --- throwing away ----------------------------------------------------------------------------------------------------


def throw_away(connection: Connection, cipher: KeyedCipher, *, person: str | None, numbers: tuple[int, ...]) -> None:
    """Throws away the keys of these cases, and of a person; what is there of that person yet (the last that they are
    told, what they wrote since) takes a new one. Nothing that is encrypted with them can be read any more, here or in
    any copy, once the ids are beside the key file (`forgotten_file`). What was counted of these cases together with
    others goes, too."""
    mine = or_(keys.c.case_id.in_(numbers), keys.c.person == person) if person else keys.c.case_id.in_(numbers)
    old = connection.scalars(select(keys.c.id).where(mine)).all()
    if person is not None and any(_has(connection, table, of, person) for table, _, of in OF_A_PERSON):
        sealer = made(cipher, connection, person)
        reseal(connection, cipher, sealer, OF_A_PERSON, person)
    cipher.keep_open(old)
    if numbers:
        connection.execute(delete(totals).where(totals.c.block.in_({number // BLOCK for number in numbers})))
    connection.execute(delete(keys).where(keys.c.id.in_(old)))
    now = datetime.now(UTC)
    if old:
        connection.execute(insert(forgotten_keys), [{"id": name, "at": now} for name in old])
    cipher.thrown_away(old)


def _has(connection: Connection, table: Table, of: str, owner: str) -> bool:
    return connection.scalar(select(table.c[of]).where(table.c[of] == owner).limit(1)) is not None


# --- going over from a store without keys -----------------------------------------------------------------------------


def without_keys(connection: Connection, most: int) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Cases and people who have no key yet, so many at most of each."""
    keyed = select(keys.c.case_id).where(keys.c.case_id.is_not(None))
    persons = select(keys.c.person).where(keys.c.person.is_not(None))
    numbers = connection.scalars(select(cases.c.id).where(cases.c.id.not_in(keyed)).limit(most))
    people = connection.scalars(select(conversations.c.id).where(conversations.c.id.not_in(persons)).limit(most))
    return tuple(numbers), tuple(people)
