"""Changing the key of a data folder, in two steps, so that no moment leaves anything that cannot be opened.

Decided here and nowhere else: what each step does, and what must be so before it.

1. `renew`: a new key becomes the first line of the key file, and everything is closed anew with it. The old ones stay
   behind it, since somebody who opened the folder earlier (a conversation in a terminal) still closes with one of them
   (and cannot open what is new: it has to be begun again).
2. `retire`: once nobody is left who did, everything is closed anew once more, and the old lines are taken away.

Everything is the database, and the files beside it that are one closed text each.
"""

import os
import secrets
from pathlib import Path

from triagebot.errors import StoreError
from triagebot.store import errors
from triagebot.store.data_folder import open_store
from triagebot.store.database import Store
from triagebot.store.encryption import DecryptionError, name_kept, new_key

#: The login of a channel is lost with the key that closed it.
FILES = ("matrix/session",)


def renew(folder: Path, key_file: Path) -> int:
    """The first step; gives how many texts were closed anew. Raises StoreError, with the key file as it was, when the
    folder cannot be opened."""
    open_store(folder, key_file=key_file).close()  # the key that is there opens it, or nothing is begun
    _write_lines(key_file, [new_key(), *_lines(key_file)])
    with open_store(folder, key_file=key_file) as store:
        return _reseal(store, folder)


def retire(folder: Path, key_file: Path) -> int:
    """The second step; gives how many old keys were taken away. Raises StoreError when there is none, or when the
    folder cannot be opened."""
    lines = _lines(key_file)
    if len(lines) < 2:
        raise StoreError(f"{key_file}: holds no old key; make a new one first (triagebot key renew)")
    with open_store(folder, key_file=key_file) as store:
        _reseal(store, folder)
    _write_lines(key_file, lines[:1])
    return len(lines) - 1


def _reseal(store: Store, folder: Path) -> int:
    """How many texts were closed anew. A file that no key opens stays: whoever needs it says so."""
    done = store.reseal()
    for path in (folder / name for name in FILES):
        try:
            _write(path, store.cipher.reencrypt(path.read_text(encoding="ascii")))
        except (FileNotFoundError, DecryptionError, UnicodeDecodeError):
            continue
        except OSError as error:
            raise errors.system_fault(path, error) from error
        done += 1
    return done


def _lines(key_file: Path) -> list[str]:
    lines = [line.strip() for line in key_file.read_text(encoding="ascii").splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def _write_lines(key_file: Path, lines: list[str]) -> None:
    try:
        _write(key_file, "".join(f"{line}\n" for line in lines))  # before anything is closed with what it holds
    except OSError as error:
        raise StoreError(f"{key_file}: cannot be written ({error.strerror}); nothing has changed") from error


def _write(path: Path, text: str) -> None:
    """Whole or not at all, for its owner alone, and on the disk when this returns."""
    draft = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w", encoding="ascii") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        draft.replace(path)
        name_kept(path)
    except OSError:
        draft.unlink(missing_ok=True)
        raise
