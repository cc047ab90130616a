"""What the library writes down about people and rooms is closed on its way to the disk.

Decided here and nowhere else: what of the library's file is closed and how, and how a file from before is taken over.

- Every text column is. Names of people and rooms say who talks with the shop, and where; names and public keys of
  devices do as well, since any homeserver tells whose they are; the names of sessions stand beside the messages there.
  What the library pickles it closes itself. In clear stay numbers, the dates of sessions between devices, and thereby
  how many there are of each.
- The library looks rows up by what stands in them and relies on that being unique, so the same text is closed alike:
  with AES-SIV (RFC 5297). The column is bound in: that somebody of one table is somebody of another does not show.
- The library's tables belong to all its files; it binds them to one for each call. So a column asks the file that it is
  bound to; one that closes nothing is read and written as ever.
- A file from before is closed in one transaction, and rewritten afterwards, so that nothing is left between its rows or
  in its log. `user_version` says how far that came.
"""

from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterable
from typing import Any

from nio.store.database import SqliteDatabase, SqliteStore
from nio.store.models import TextField

from triagebot.store.encryption import DecryptionError

#: `user_version` of a file: as the library writes it, closed but with traces of what it was, closed.
_CLEAR, _TRACES, _CLOSED = range(3)
_KEY_BYTES = 64


class Closing:
    """Closes texts, the same one in the same column alike, and opens them."""

    def __init__(self, secret: str) -> None:
        """`secret`: what the key is made from, with as much chance in it as a key needs."""
        from cryptography.hazmat.primitives.ciphers.aead import AESSIV
        from cryptography.hazmat.primitives.hashes import SHA256
        from cryptography.hazmat.primitives.kdf.hkdf import HKDF

        key = HKDF(SHA256(), _KEY_BYTES, salt=None, info=b"triagebot matrix names").derive(secret.encode())
        self._box = AESSIV(key)

    def close(self, column: str, text: str) -> str:
        closed = self._box.encrypt(text.encode("utf-8", "surrogatepass"), [column.encode()])
        return urlsafe_b64encode(closed).decode("ascii")

    def open(self, column: str, closed: str) -> str:
        """Raises DecryptionError when it is not what `close` made for this column with this key."""
        from cryptography.exceptions import InvalidTag

        try:
            return self._box.decrypt(urlsafe_b64decode(closed), [column.encode()]).decode("utf-8", "surrogatepass")
        except (InvalidTag, ValueError) as error:
            raise DecryptionError("not closed with this key, or changed since") from error


class ClosingDatabase(SqliteDatabase):  # type: ignore[misc]
    """A file of the library; `closing` is None while it is read and written as ever."""

    closing: Closing | None = None


class _ClosedText(TextField):  # type: ignore[misc]
    def db_value(self, value: Any) -> Any:
        value, closing = super().db_value(value), _closing(self)
        return value if closing is None or value is None else closing.close(_name(self), value)

    def python_value(self, value: Any) -> Any:
        closing = _closing(self)
        return super().python_value(value if closing is None or value is None else closing.open(_name(self), value))


def _closing(field: Any) -> Closing | None:
    return getattr(field.model._meta.database, "closing", None)


def _name(field: Any) -> str:
    return f"{field.model._meta.table_name}.{field.column_name}"


def _text_columns() -> Iterable[Any]:
    """Not those of a kind of their own, which hold dates. What refers to a text of another table is closed like it."""
    for model in SqliteStore.models:
        yield from (field for field in model._meta.sorted_fields if type(field) in (TextField, _ClosedText))


for _field in _text_columns():
    _field.__class__ = _ClosedText


def is_clear(database: Any) -> bool:
    """Whether a file is as the library writes it."""
    return _version(database) == _CLEAR


def close_rows(database: Any, closing: Closing) -> None:
    """Closes a file whose rows are in clear: all of them or, when it is cut off, none."""
    database.execute_sql("PRAGMA temp_store = memory")
    with database.atomic():
        database.execute_sql("PRAGMA defer_foreign_keys = 1")
        for field in _text_columns():
            for model, column in ((field.model, field.column_name), *_references(field)):
                _close_column(database, model._meta.table_name, column, _name(field), closing)
        database.execute_sql(f"PRAGMA user_version = {_TRACES}")


def _references(field: Any) -> Iterable[tuple[Any, str]]:
    """The columns of other tables that hold what this one does."""
    for key, model in field.model._meta.backrefs.items():
        if key.rel_field is field and model in SqliteStore.models:
            yield model, key.column_name


def _close_column(database: Any, table: str, column: str, name: str, closing: Closing) -> None:
    rows = database.execute_sql(f'SELECT rowid, "{column}" FROM "{table}" WHERE "{column}" IS NOT NULL').fetchall()
    for number, text in rows:
        changed = (closing.close(name, text), number)
        database.execute_sql(f'UPDATE "{table}" SET "{column}" = ? WHERE rowid = ?', changed)


def start_closing(database: Any, closing: Closing) -> None:
    """From now on a file whose rows are closed is read and written with this key; traces of clear ones are wiped.

    Raises DecryptionError when its rows were closed with another key.
    """
    one = database.execute_sql("SELECT user_id FROM accounts LIMIT 1").fetchone()  # without one there are no rows
    if one is not None:
        closing.open("accounts.user_id", one[0])
    if _version(database) == _TRACES:
        database.execute_sql("VACUUM")
        database.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        database.execute_sql(f"PRAGMA user_version = {_CLOSED}")
    database.closing = closing


def _version(database: Any) -> int:
    return int(database.execute_sql("PRAGMA user_version").fetchone()[0])
