"""The key file: where it lies, who may read it, and how it is made and changed.

It lies outside the data folder, is readable by its owner alone, and is made at the first use. It has a key a line; the
first encrypts, all of them decrypt (`key_rotation` says how keys are changed).
"""

import os
from pathlib import Path

import platformdirs

from triagebot.credentials import open_to_others
from triagebot.store import errors
from triagebot.store.encryption import Cipher
from triagebot.store.whole_file import write_whole

KEY_FILE = "triagebot.key"
_FOLDER_MODE = 0o700


def default_key_file() -> Path:
    """Where the key lies unless the settings say otherwise: beside the settings file, away from the data."""
    return platformdirs.user_config_path("triagebot", appauthor=False) / KEY_FILE


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

    A new key is on the disk before it is given out, since what it encrypts could not be decrypted without it.
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
    # A copy of the data folder would hold the key as well.
    if file.resolve().is_relative_to(data.resolve()):
        raise errors.fault(file, errors.KEY_BESIDE_DATA)
    try:
        with file.open("rb") as stream:
            if open_to_others(file, os.fstat(stream.fileno()).st_mode):
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
    """Makes the key file whole or not at all; if another process was quicker, its file stays."""
    file.parent.mkdir(mode=_FOLDER_MODE, parents=True, exist_ok=True)
    write_whole(file, f"{new_key()}\n".encode("ascii"), overwrite=False)
