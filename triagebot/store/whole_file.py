"""Writes a file whole or not at all."""

import os
import secrets
from contextlib import suppress
from pathlib import Path

#: For its owner alone: what a file with a secret is made with.
PRIVATE = 0o600


def write_whole(path: Path, content: bytes, mode: int = PRIVATE, *, overwrite: bool = True) -> None:
    """Writes a file that is on the disk, name and all, when this returns; a crash leaves it as it was. Without
    `overwrite` one that is there already stays. Raises OSError."""
    draft = path.with_name(f".{path.name.lstrip('.')}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, mode), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if overwrite:
            draft.replace(path)
        else:
            with suppress(FileExistsError):
                os.link(draft, path)
    finally:
        draft.unlink(missing_ok=True)
    keep_name(path)


def keep_name(path: Path) -> None:
    """Puts the name of a new file on the disk as well: its content alone would not be found after a power cut."""
    folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
