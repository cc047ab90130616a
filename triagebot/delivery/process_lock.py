"""One delivery at a time in a data folder: two would send the same messages twice.

The terminal and JSON lines take no lock (see `WaitingClient`) and may run beside a delivery: each of their turns is a
transaction of its own.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from triagebot.errors import StoreError

LOCK = "desk.lock"


@contextmanager
def staffed(folder: Path) -> Iterator[None]:
    """Holds the lock of a data folder. Raises StoreError when another process does. A crash releases it."""
    path = folder / LOCK
    try:
        handle = os.open(path, os.O_CREAT | os.O_RDWR | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise StoreError(f"{path}: cannot be opened ({error.strerror}); give this user the right to it") from error
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.pread(handle, 20, 0).decode("ascii", "replace").strip()
            raise StoreError(
                f"{folder}: the delivery is staffed already, by process {holder or '(unknown)'}; stop that one first, "
                "or set another data folder (TRIAGEBOT_DATA_FOLDER)"
            ) from None
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(handle)
