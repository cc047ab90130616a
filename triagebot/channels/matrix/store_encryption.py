"""The texts in nio's store are encrypted on their way to the disk, and a file from before is encrypted in place.

- Every text column is. Names of people and rooms say who talks with the shop, and where; any homeserver tells whose
  the names and public keys of devices are; the ids of sessions stand beside the messages there. nio encrypts what it
  pickles itself. Plain stay numbers, the dates of Olm sessions, and thereby how many rows there are.
- nio looks rows up by these texts and relies on their being unique, so the encryption is deterministic: AES-SIV (RFC
  5297) with the column's label, so that nobody sees that a user of one table is a user of another.
- An older file is encrypted in one transaction and rewritten afterwards, so that nothing plain is left between its rows
  or in its log. `user_version` says how far that came.
"""

from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterable
from typing import Any, NamedTuple

from triagebot.store.encryption import DecryptionError

#: `user_version` of a file: as nio writes it, encrypted but with traces of what was plain, encrypted.
_PLAIN, _TRACES, _ENCRYPTED = range(3)
_KEY_BYTES = 64


class Column(NamedTuple):
    """A column of texts; `label` is what its encryption is bound to."""

    table: str
    name: str
    label: str


class TextCipher:
    """Encrypts texts: the same text in the same column always alike."""

    def __init__(self, secret: str) -> None:
        """`secret`: what the key is derived from, with as much entropy as a key needs."""
        from cryptography.hazmat.primitives.ciphers.aead import AESSIV
        from cryptography.hazmat.primitives.hashes import SHA256
        from cryptography.hazmat.primitives.kdf.hkdf import HKDF

        key = HKDF(SHA256(), _KEY_BYTES, salt=None, info=b"triagebot matrix names").derive(secret.encode())
        self._aead = AESSIV(key)

    def encrypt(self, label: str, text: str) -> str:
        encrypted = self._aead.encrypt(text.encode("utf-8", "surrogatepass"), [label.encode()])
        return urlsafe_b64encode(encrypted).decode("ascii")

    def decrypt(self, label: str, encrypted: str) -> str:
        """Raises DecryptionError for anything but what `encrypt` made under this label with this key."""
        from cryptography.exceptions import InvalidTag

        try:
            return self._aead.decrypt(urlsafe_b64decode(encrypted), [label.encode()]).decode("utf-8", "surrogatepass")
        except (InvalidTag, ValueError) as error:
            raise DecryptionError("not encrypted with this key, or changed since") from error


def is_plain(database: Any) -> bool:
    """Whether a file is as nio writes it."""
    return _version(database) == _PLAIN


def encrypt_rows(database: Any, cipher: TextCipher, columns: Iterable[Column]) -> None:
    """Encrypts all rows of a plain file or, when it is cut off, none."""
    database.execute_sql("PRAGMA temp_store = memory")
    with database.atomic():
        database.execute_sql("PRAGMA defer_foreign_keys = 1")
        for table, name, label in columns:
            rows = database.execute_sql(f'SELECT rowid, "{name}" FROM "{table}" WHERE "{name}" IS NOT NULL').fetchall()
            for number, text in rows:
                changed = (cipher.encrypt(label, text), number)
                database.execute_sql(f'UPDATE "{table}" SET "{name}" = ? WHERE rowid = ?', changed)
        database.execute_sql(f"PRAGMA user_version = {_TRACES}")


def start_encrypting(database: Any, cipher: TextCipher) -> None:
    """From now on an encrypted file is read and written with this cipher; traces of plain rows are wiped.

    Raises DecryptionError when its rows were encrypted with another key.
    """
    one = database.execute_sql("SELECT user_id FROM accounts LIMIT 1").fetchone()  # without one there are no rows
    if one is not None:
        cipher.decrypt("accounts.user_id", one[0])
    if _version(database) == _TRACES:
        database.execute_sql("VACUUM")
        database.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        database.execute_sql(f"PRAGMA user_version = {_ENCRYPTED}")
    database.cipher = cipher


def _version(database: Any) -> int:
    return int(database.execute_sql("PRAGMA user_version").fetchone()[0])
