"""Changing the key of a data folder, in two steps, so that no moment leaves anything that cannot be opened.

Decided here and nowhere else: what each step does, and what must be so before it.

1. `renew`: a new key becomes the first line of the key file, and everything is closed anew with it. The old ones stay
   behind it, since somebody who opened the folder earlier (a conversation in a terminal) still closes with one of them
   (and cannot open what is new: it has to be begun again).
2. `retire`: once nobody is left who did, everything is closed anew once more, and the old lines are taken away.
"""

import os
import secrets
from pathlib import Path

from triagebot.errors import StoreError
from triagebot.store.opening import open_store
from triagebot.store.seals import name_kept, new_key


def renew(folder: Path, key_file: Path) -> int:
    """The first step; gives how many texts were closed anew. Raises StoreError, with the key file as it was, when the
    folder cannot be opened."""
    open_store(folder, key_file=key_file).close()  # the key that is there opens it, or nothing is begun
    _write(key_file, [new_key(), *_lines(key_file)])
    with open_store(folder, key_file=key_file) as store:
        return store.reseal()


def retire(folder: Path, key_file: Path) -> int:
    """The second step; gives how many old keys were taken away. Raises StoreError when there is none, or when the
    folder cannot be opened."""
    lines = _lines(key_file)
    if len(lines) < 2:
        raise StoreError(f"{key_file}: holds no old key; make a new one first (triagebot key renew)")
    with open_store(folder, key_file=key_file) as store:
        store.reseal()
    _write(key_file, lines[:1])
    return len(lines) - 1


def _lines(key_file: Path) -> list[str]:
    lines = [line.strip() for line in key_file.read_text(encoding="ascii").splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def _write(key_file: Path, lines: list[str]) -> None:
    """Whole or not at all, and for its owner alone."""
    draft = key_file.with_name(f".{key_file.name}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w", encoding="ascii") as stream:
            stream.writelines(f"{line}\n" for line in lines)
            stream.flush()
            os.fsync(stream.fileno())
        draft.replace(key_file)
        name_kept(key_file)  # before anything is closed with what it holds
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise StoreError(f"{key_file}: cannot be written ({error.strerror}); nothing has changed") from error
