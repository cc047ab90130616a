"""Changing the key of a data folder, in two steps, so that at no moment anything cannot be decrypted.

Decided here and nowhere else: what each step does, and what must be so before it.

1. `renew`: a new key becomes the first line of the key file, and everything is encrypted anew with it. The old ones
   stay behind it, since a process that opened the folder earlier (a conversation in a terminal) still encrypts with one
   of them (and cannot decrypt what is new: it has to be begun again).
2. `retire`: once no such process is left, everything is encrypted anew once more, and the old lines are taken away.

Everything is the database, and the files beside it that others own: each owner gives a function for its file.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Column, Table, and_, bindparam, select, tuple_, update

from triagebot.errors import StoreError
from triagebot.store import errors
from triagebot.store.data_folder import open_store
from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.key_file import new_key
from triagebot.store.tables import (
    bikes,
    conversations,
    deeds,
    events,
    grants,
    inbox,
    keys,
    loans,
    lookup_key,
    outbox,
    parties,
    photos,
    positions,
    requests,
    staff,
    summaries,
    totals,
)
from triagebot.store.transactions import Store
from triagebot.store.whole_file import write_whole

#: Encrypts the texts of a file in the data folder anew; gives their number. A text that no key decrypts stays: the part
#: that needs it says so.
Reencrypt = Callable[[Path, Cipher], int]

#: Every column that is encrypted. The key of the lookup hashes comes last: after a stop halfway through, all of it can
#: still be decrypted with the old keys.
ENCRYPTED: tuple[tuple[Table, str], ...] = (
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
    (deeds, "body"),
    (parties, "body"),
    (loans, "body"),
    (bikes, "body"),
    (requests, "body"),
    (keys, "body"),
    (summaries, "body"),
    (totals, "body"),
    (lookup_key, "body"),
)

#: How a text begins that was encrypted with a key of the key file. What the keys in the database encrypted stays: they
#: alone are encrypted anew.
_WITH_THE_FILE_S = "gAAAA%"

#: How many rows are encrypted anew in one transaction: few enough that others need not wait long.
_AT_ONCE = 500


def renew(folder: Path, key_file: Path, beside: Sequence[Reencrypt] = (), database: str | None = None) -> int:
    """The first step; gives how many texts were encrypted anew. Raises StoreError, with the key file as it was, when
    the folder cannot be opened."""
    # the key that is there decrypts it, or nothing is begun
    open_store(folder, key_file=key_file, database=database).close()
    _write_lines(key_file, [new_key(), *_lines(key_file)])
    return _reencrypt(folder, key_file, beside, database)


def retire(folder: Path, key_file: Path, beside: Sequence[Reencrypt] = (), database: str | None = None) -> int:
    """The second step; gives how many old keys were taken away. Raises StoreError when there is none, or when the
    folder cannot be opened."""
    lines = _lines(key_file)
    if len(lines) < 2:
        raise StoreError(f"{key_file}: holds no old key; make a new one first (triagebot key renew)")
    _reencrypt(folder, key_file, beside, database)
    _write_lines(key_file, lines[:1])
    return len(lines) - 1


def reencrypt_database(store: Store) -> int:
    """Encrypts everything in the database with the first key; gives the number of texts. Others may go on writing
    meanwhile. Raises StoreError."""
    return sum(_reencrypt_column(store, table, column) for table, column in ENCRYPTED)


def _reencrypt(folder: Path, key_file: Path, beside: Sequence[Reencrypt], database: str | None) -> int:
    with open_store(folder, key_file=key_file, database=database) as store:
        done = reencrypt_database(store)
        try:
            return done + sum(reencrypt(folder, store.cipher) for reencrypt in beside)
        except OSError as error:
            raise errors.system_fault(folder, error) from error


def _reencrypt_column(store: Store, table: Table, name: str) -> int:
    key: Sequence[Column[Any]] = tuple(table.primary_key.columns)
    value = table.c[name]
    change = update(table).where(and_(*(part == bindparam(f"key_{part.name}") for part in key)))
    change = change.values({name: bindparam("encrypted")})
    done, after = 0, None
    while True:
        with store.begin() as tx:
            found = select(*key, value).where(value.like(_WITH_THE_FILE_S)).order_by(*key).limit(_AT_ONCE)
            rows = tx.connection.execute(found if after is None else found.where(tuple_(*key) > tuple_(*after))).all()
            if not rows:
                return done
            try:
                encrypted = [store.cipher.reencrypt(row[-1]) for row in rows]
            except DecryptionError as error:
                raise errors.fault(
                    store.database.place, f"a row of {table.name} cannot be decrypted: {errors.DAMAGED}"
                ) from error
            numbers = [{f"key_{part.name}": at for part, at in zip(key, row, strict=False)} for row in rows]
            tx.connection.execute(
                change, [number | {"encrypted": text} for number, text in zip(numbers, encrypted, strict=True)]
            )
        done, after = done + len(rows), tuple(rows[-1][:-1])


def _lines(key_file: Path) -> list[str]:
    lines = [line.strip() for line in key_file.read_text(encoding="ascii").splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def _write_lines(key_file: Path, lines: list[str]) -> None:
    try:
        # before anything is encrypted with what it holds
        write_whole(key_file, "".join(f"{line}\n" for line in lines).encode("ascii"))
    except OSError as error:
        raise StoreError(f"{key_file}: cannot be written ({error.strerror}); nothing has changed") from error
