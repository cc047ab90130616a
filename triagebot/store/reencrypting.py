"""Changing keys: everything that an older key closed is closed with the first one."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import Column, Table, and_, bindparam, select, tuple_, update

from triagebot.store import errors
from triagebot.store.encryption import DecryptionError
from triagebot.store.tables import (
    conversations,
    deeds,
    events,
    grants,
    inbox,
    loans,
    outbox,
    parties,
    photos,
    positions,
    seals,
    staff,
    tickets,
)

if TYPE_CHECKING:
    from triagebot.store.database import Store

#: Every column that is closed, with the columns that number its rows. The key of the marks comes last: whoever stops
#: halfway through finds all of it still readable with the old keys.
CLOSED: tuple[tuple[Table, str], ...] = (
    (events, "body"),
    (conversations, "address"),
    (inbox, "body"),
    (outbox, "body"),
    (outbox, "receipt"),
    (positions, "place"),
    (photos, "place"),
    (photos, "body"),
    (grants, "body"),
    (staff, "body"),
    (tickets, "place"),
    (deeds, "body"),
    (parties, "body"),
    (loans, "body"),
    (seals, "body"),
)

#: So many rows are closed anew in one transaction, so that others need not wait long.
_AT_ONCE = 500


def reseal(store: "Store") -> int:
    """Closes every closed text of a store with the first key; gives their number. Raises StoreError."""
    return sum(_reseal(store, table, column) for table, column in CLOSED)


def _reseal(store: "Store", table: Table, name: str) -> int:
    key: Sequence[Column[Any]] = tuple(table.primary_key.columns)
    value = table.c[name]
    change = update(table).where(and_(*(part == bindparam(f"key_{part.name}") for part in key)))
    change = change.values({name: bindparam("closed")})
    done, after = 0, None
    while True:
        with store.begin() as tx:
            found = select(*key, value).where(value.is_not(None)).order_by(*key).limit(_AT_ONCE)
            rows = tx.connection.execute(found if after is None else found.where(tuple_(*key) > tuple_(*after))).all()
            if not rows:
                return done
            try:
                closed = [store.cipher.reencrypt(row[-1]) for row in rows]
            except DecryptionError as error:
                raise errors.fault(store.path, f"a row of {table.name} cannot be opened: {errors.DAMAGED}") from error
            numbers = [{f"key_{part.name}": at for part, at in zip(key, row, strict=False)} for row in rows]
            tx.connection.execute(
                change, [number | {"closed": text} for number, text in zip(numbers, closed, strict=True)]
            )
        done, after = done + len(rows), tuple(rows[-1][:-1])
