"""What is personal, encrypted for the database: texts, JSON objects, and the hashes that they are looked up by.

- Texts are encrypted with Fernet (AES-128-CBC and HMAC-SHA256, https://github.com/fernet/spec).
- People and platform ids are looked up by HMAC-SHA256 (see `lookup_hash`). Its key lies in the database itself,
  encrypted like all the rest: so it stays the same when keys change, and decrypting it proves that the key file belongs
  to the database.
- JSON objects have sorted keys, and nothing in them that UTF-8 or a database cannot hold.
"""

import hmac
import json
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

T = TypeVar("T")

_HALF_PAIR = re.compile("[\ud800-\udfff]")
_JSON = json.JSONEncoder(ensure_ascii=False, sort_keys=True, allow_nan=False, separators=(",", ":"))


def json_text(value: object) -> str:
    """`value` as JSON with sorted keys, in characters that every database takes.

    Raises ValueError for what JSON cannot hold (NaN, an infinity), TypeError for what is no JSON value at all.
    """
    text = _JSON.encode(value)
    return text if text.isascii() else _HALF_PAIR.sub(lambda half: f"\\u{ord(half[0]):04x}", text)


class DecryptionError(ValueError):
    """A text was not encrypted with any of these keys, or was changed since."""


class Cipher:
    """Encrypts and decrypts texts, and makes the hashes by which they are looked up. Threads may share it."""

    def __init__(self, keys: Sequence[bytes], lookup: bytes) -> None:
        """The first of `keys` encrypts, all of them decrypt. `lookup`: 32 bytes for the keyed hash."""
        from cryptography.fernet import Fernet, InvalidToken, MultiFernet

        self._fernet = MultiFernet([Fernet(key) for key in keys])
        self._lookup = lookup
        self._refusals = (InvalidToken, ValueError)

    def encrypt(self, text: str) -> str:
        """`text` must be what UTF-8 can hold, as JSON made by `json_text` is."""
        return self._fernet.encrypt(text.encode()).decode("ascii")

    def encrypt_bytes(self, data: bytes) -> str:
        return self._fernet.encrypt(data).decode("ascii")

    def decrypt(self, encrypted: str) -> str:
        """What `encrypt` was given. Raises DecryptionError."""
        return self._tried(lambda: self._fernet.decrypt(encrypted).decode())

    def decrypt_bytes(self, encrypted: str) -> bytes:
        """What `encrypt_bytes` was given. Raises DecryptionError."""
        return self._tried(lambda: self._fernet.decrypt(encrypted))

    def encrypt_json(self, value: Mapping[str, Any]) -> str:
        """A JSON object. Raises as `json_text` does."""
        return self.encrypt(json_text(dict(value)))

    def decrypt_json(self, encrypted: str) -> dict[str, Any]:
        """What `encrypt_json` was given. Raises DecryptionError."""
        value = json.loads(self.decrypt(encrypted))
        if not isinstance(value, dict):
            raise DecryptionError("not a JSON object")
        return value

    def reencrypt(self, encrypted: str) -> str:
        """The same text, encrypted with the first key. Raises DecryptionError."""
        return self._tried(lambda: self._fernet.rotate(encrypted).decode("ascii"))

    def _tried(self, work: Callable[[], T]) -> T:
        try:
            return work()
        except self._refusals as error:
            raise DecryptionError("not encrypted with a key of this key file, or changed since") from error

    def lookup_hash(self, kind: str, *parts: str) -> str:
        """What something personal is looked up by: 64 hexadecimal digits that say nothing about it."""
        joined = "\0".join(part.replace("\\", "\\\\").replace("\0", "\\0") for part in (kind, *parts))
        return hmac.digest(self._lookup, joined.encode("utf-8", "surrogatepass"), "sha256").hex()
