"""A journal of the receipts of messages that went out and whose receipt is not in the outbox yet.

Writing "sent" into the database takes a commit, some milliseconds in which a crash would leave it unknown whether a
message went out. So its number and receipt are appended to a file at once, which takes microseconds: what is appended
outlives the process that did it (a power cut it may not; then the outbox has the last word, and the message counts as
unknown). The file is emptied whenever everything in it is in the outbox as well.

A line is the number and the receipt, encrypted as it will be in the outbox: one that a crash cut short cannot be
decrypted. The file keeps the name that it has had from the first version on, so that an upgrade reads what was left.
"""

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from triagebot.store.encryption import Cipher, DecryptionError
from triagebot.store.whole_file import write_whole

JOURNAL = "desk.sent"
#: The file is emptied only when it has grown to this (bytes): to do so every time would cost more than it saves.
_LARGE = 65_536


class ReceiptJournal:
    """One file in the data folder, for the one delivery there."""

    def __init__(self, folder: Path, cipher: Cipher) -> None:
        """Raises OSError when the file cannot be opened."""
        self._cipher = cipher
        self._handle = os.open(folder / JOURNAL, os.O_CREAT | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o600)
        self._noted = 0
        self._size = 0
        self._due = False

    def left_behind(self) -> dict[int, dict[str, Any]]:
        """The receipts that a crash left here, by number of the message; what cannot be read is passed over."""
        os.lseek(self._handle, 0, os.SEEK_SET)
        found: dict[int, dict[str, Any]] = {}
        with os.fdopen(os.dup(self._handle), "rb") as stream:
            for line in stream:
                with suppress(DecryptionError, ValueError):  # the last line, which the crash cut short
                    number, encrypted = line.decode().split()
                    found[int(number)] = self._cipher.decrypt_json(encrypted)
        return found

    def note(self, number: int, receipt: Mapping[str, Any]) -> str:
        """Notes that a message went out; gives its receipt, encrypted, for the outbox, which is written next. So a disk
        that refuses is no reason to stop."""
        encrypted = self._cipher.encrypt_json(receipt)
        self._noted += 1
        with suppress(OSError):
            self._size += os.write(self._handle, f"{number} {encrypted}\n".encode())
        return encrypted

    def done(self, *, forgotten: bool = False) -> None:
        """One of the messages that were noted is in the outbox as sent, or went from there with the person who is
        forgotten: then the file is emptied as soon as may be."""
        self._noted -= 1
        self._due = self._due or forgotten
        if not self._noted and (self._due or self._size > _LARGE):
            self.clear()

    def clear(self) -> None:
        """Everything in the journal is in the outbox."""
        os.ftruncate(self._handle, 0)
        self._size = 0
        self._due = False

    def close(self) -> None:
        os.close(self._handle)


def reencrypt_receipts(folder: Path, cipher: Cipher) -> int:
    """Encrypts what a crash left in the journal with the first key; gives the number of receipts. No delivery may be at
    work on the folder. Raises OSError."""
    path, lines, done = folder / JOURNAL, list[str](), 0
    for line in path.read_text("ascii", "replace").splitlines() if path.exists() else ():
        number, _, encrypted = line.partition(" ")
        try:
            lines.append(f"{number} {cipher.reencrypt(encrypted)}\n")
        except DecryptionError:  # as when the delivery reads it
            continue
        done += 1
    if done:
        write_whole(path, "".join(lines).encode("ascii"))
    return done
