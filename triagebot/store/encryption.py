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
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from triagebot.errors import StoreError
from triagebot.store.errors import KEY_CHANGED

if TYPE_CHECKING:
    from cryptography.fernet import Fernet

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

        #: Keys that were opened with these, by their ids (see `person_keys`).
        self.opened: dict[str, Fernet] = {}
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
        return self._tried(self.decrypt_bytes(encrypted).decode)

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


# --- keys of cases and people (see `person_keys`) ---------------------------------------------------------------------

#: How long the id of such a key is. A text that was encrypted with one begins with the id and a colon.
KEY_ID = 16
#: Keys that are held open; some 500 bytes each.
_MOST_OPEN = 4096


class Sealer:
    """Encrypts with one such key."""

    def __init__(self, name: str, key: "Fernet") -> None:
        self.name = name
        self._key = key

    def encrypt_bytes(self, data: bytes) -> str:
        return f"{self.name}:{self._key.encrypt(data).decode('ascii')}"

    def encrypt_json(self, value: Mapping[str, Any]) -> str:
        """A JSON object. Raises as `json_text` does."""
        return self.encrypt_bytes(json_text(dict(value)).encode())


class Statement(Protocol):
    """Asks the database for one value."""

    def value(self, connection: Any, given: Mapping[str, Any]) -> Any:
        """None if there is none."""


@dataclass(frozen=True, slots=True)
class KeyRows:
    """How such keys are found: a key by its id (`name`), and the id by whose it is (`owner`); and how the first one of
    somebody is made."""

    by_id: Statement
    of_case: Statement
    of_person: Statement
    make: "Callable[[KeyedCipher, Any, int | str], Sealer]"


class KeyedCipher(Cipher):
    """The key file's cipher, which also opens what such keys encrypted; for one transaction, on its connection."""

    def __init__(self, key_file: Cipher, connection: Any, rows: KeyRows) -> None:
        self.__dict__.update(key_file.__dict__)
        self._connection, self._rows = connection, rows
        self._owners: dict[int | str, Sealer] = {}
        self._thrown: dict[str, Fernet] = {}

    def decrypt_bytes(self, encrypted: str) -> bytes:
        if encrypted[KEY_ID : KEY_ID + 1] != ":":
            return super().decrypt_bytes(encrypted)
        key = self._key(encrypted[:KEY_ID])
        return self._tried(lambda: key.decrypt(encrypted[KEY_ID + 1 :]))

    def of_case(self, number: int) -> Sealer:
        """Encrypts with the key of a case, which is made if there is none."""
        return self._owners.get(number) or self._found(number, self._rows.of_case)

    def of_person(self, person: str) -> Sealer:
        """Encrypts with a person's key, which is made if there is none."""
        return self._owners.get(person) or self._found(person, self._rows.of_person)

    def new_owner(self, owner: int | str, sealer: Sealer) -> None:
        """Remembers the key of a case that has just been begun."""
        self._owners[owner] = sealer

    def keep_open(self, names: Sequence[str]) -> None:
        """Keeps keys that are about to be thrown away for the rest of the transaction: what was read before still has
        to be opened, as when the buttons of an open question are taken away."""
        for name in names:
            with suppress(DecryptionError):
                self._thrown[name] = self._key(name)

    def thrown_away(self, names: Sequence[str]) -> None:
        """These keys encrypt nothing any more."""
        self._owners.clear()
        for name in names:
            self.opened.pop(name, None)

    def _found(self, owner: int | str, find: Statement) -> Sealer:
        name: str | None = find.value(self._connection, {"owner": owner})
        if name is None:
            sealer = self._rows.make(self, self._connection, owner)
        else:
            try:
                sealer = Sealer(name, self._key(name))
            except DecryptionError as error:
                raise StoreError(KEY_CHANGED) from error
        self._owners[owner] = sealer
        return sealer

    def _key(self, name: str) -> "Fernet":
        """Raises DecryptionError for one that was thrown away."""
        held = self.opened.get(name) or self._thrown.get(name)
        if held is not None:
            return held
        from cryptography.fernet import Fernet

        body = self._rows.by_id.value(self._connection, {"name": name})
        if body is None:
            raise DecryptionError("its key was thrown away")
        if len(self.opened) >= _MOST_OPEN:
            self.opened.clear()
        key = self.opened[name] = Fernet(super().decrypt_bytes(body))
        return key
