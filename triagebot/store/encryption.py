"""Closes what is personal, so that whoever gets hold of the database alone reads nothing of it.

Decided here and nowhere else: where keys lie and who may read them, how a text is closed, and what people are looked
up by.

- The key file lies outside the data folder, is readable by its owner alone, and is made at the first use. A key a
  line; the first closes, all of them open: to change keys, put a new line (`triagebot.store.new_key()`) on top, start
  once with `Store.reseal()`, and take the old line away.
- Texts are closed with Fernet (AES-128-CBC and HMAC-SHA256, https://github.com/fernet/spec).
- People and platform ids are looked up by HMAC-SHA256. Its key lies in the database itself, closed like all the rest:
  so it stays the same when keys are changed, and opening it is the proof that the key file belongs to the database.
"""

import hmac
import os
import secrets
import stat
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

import platformdirs

from triagebot.store import errors

T = TypeVar("T")

KEY_FILE = "triagebot.key"
_FILE_MODE = 0o600
_FOLDER_MODE = 0o700
_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def default_key_file() -> Path:
    """Where the key lies unless the settings say otherwise: beside the settings file, away from the data."""
    return platformdirs.user_config_path("triagebot", appauthor=False) / KEY_FILE


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


def new_key() -> str:
    """A fresh line for a key file."""
    from cryptography.fernet import Fernet

    return Fernet.generate_key().decode("ascii")


def read_keys(file: Path, data: Path) -> tuple[bytes, ...]:
    """The keys in the key file of an existing database in folder `data`. Raises StoreError."""
    keys = _read(file, data)
    if keys is None:
        raise errors.fault(file, errors.NO_KEY.format(data=data))
    return keys


def read_or_make_keys(file: Path, data: Path) -> tuple[bytes, ...]:
    """The keys in the key file, which is made, with its folder, when it is missing. Raises StoreError.

    A new key is on the disk before it is given out, since what it closes could not be opened without it.
    """
    keys = _read(file, data)
    if keys is not None:
        return keys
    try:
        _make(file)
    except OSError as error:
        raise errors.fault(file, errors.KEY_UNMAKABLE.format(why=error.strerror)) from error
    return read_keys(file, data)


def _read(file: Path, data: Path) -> tuple[bytes, ...] | None:
    """The keys, or None when there is no such file. Raises StoreError."""
    # Whoever copies the data folder would copy the key along.
    if file.resolve().is_relative_to(data.resolve()):
        raise errors.fault(file, errors.KEY_BESIDE_DATA)
    try:
        with file.open("rb") as stream:
            if stat.S_IMODE(os.fstat(stream.fileno()).st_mode) & _OTHERS:
                raise errors.fault(file, errors.KEY_OPEN_TO_OTHERS.format(file=file))
            lines = [line.strip() for line in stream.read(1 << 16).splitlines()]
    except FileNotFoundError:
        return None
    except OSError as error:
        raise errors.fault(file, errors.KEY_UNREADABLE.format(why=error.strerror)) from error
    keys = tuple(line for line in lines if line and not line.startswith(b"#"))
    try:
        Cipher(keys, b"")
    except ValueError:
        raise errors.fault(file, errors.NO_KEYS_IN_IT) from None
    return keys


def _make(file: Path) -> None:
    """Makes the key file whole or not at all; who finds that another process was quicker takes that one's."""
    file.parent.mkdir(mode=_FOLDER_MODE, parents=True, exist_ok=True)
    draft = file.with_name(f".{file.name}.{secrets.token_hex(8)}")
    handle = os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, _FILE_MODE)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as stream:
            stream.write(f"{new_key()}\n")
            stream.flush()
            os.fsync(stream.fileno())
        with suppress(FileExistsError):
            os.link(draft, file)
    finally:
        draft.unlink()
    name_kept(file)


def name_kept(file: Path) -> None:
    """Puts the name of a new file on the disk as well: its content alone would not be found after a power cut."""
    folder = os.open(file.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
