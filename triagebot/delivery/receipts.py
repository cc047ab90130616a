"""A slip of paper for each message that went out, until that is written in the outbox.

Writing "sent" into the database takes a commit, some milliseconds in which a crash would leave it unknown whether a
message went out. So its number and receipt are appended to a file at once, which takes microseconds: what is appended
outlives the process that did it (a power cut it may not; then the outbox has the last word, and the message counts as
unknown). The file is emptied whenever everything on it is in the outbox as well.

A line is the number and the receipt, closed as it will be in the outbox: one that a crash cut short cannot be opened.
"""

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.writing import decrypted_json, encrypted_json

SLIPS = "desk.sent"
#: The file is emptied only when it has grown to this (bytes): to do so every time would cost more than it saves.
_LARGE = 65_536


class Slips:
    """One file in the data folder, for the one delivery there."""

    def __init__(self, folder: Path, cipher: Cipher) -> None:
        """Raises OSError when the file cannot be opened."""
        self._cipher = cipher
        self._handle = os.open(folder / SLIPS, os.O_CREAT | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o600)
        self._open = 0
        self._size = 0
        self._due = False

    def left(self) -> dict[int, dict[str, Any]]:
        """The receipts, by number of the message, that were left behind; what cannot be read is passed over."""
        os.lseek(self._handle, 0, os.SEEK_SET)
        found: dict[int, dict[str, Any]] = {}
        with os.fdopen(os.dup(self._handle), "rb") as stream:
            for line in stream:
                try:
                    number, closed = line.decode().split()
                    found[int(number)] = decrypted_json(self._cipher, closed)
                except (DecryptionError, ValueError):  # the last one, which the crash cut short
                    continue
        return found

    def put(self, number: int, receipt: Mapping[str, Any]) -> str:
        """Notes that a message went out; gives its receipt, closed, for the outbox, which is written next. So a disk
        that refuses is no reason to stop."""
        closed = encrypted_json(self._cipher, receipt)
        self._open += 1
        with suppress(OSError):
            self._size += os.write(self._handle, f"{number} {closed}\n".encode())
        return closed

    def done(self, *, forgotten: bool = False) -> None:
        """One of the messages that were noted is in the outbox as sent, or gone from there with whoever is forgotten:
        then the file is emptied as soon as may be."""
        self._open -= 1
        self._due = self._due or forgotten
        if not self._open and (self._due or self._size > _LARGE):
            self.clear()

    def clear(self) -> None:
        """Everything on the slips is in the outbox."""
        os.ftruncate(self._handle, 0)
        self._size = 0
        self._due = False

    def close(self) -> None:
        os.close(self._handle)
