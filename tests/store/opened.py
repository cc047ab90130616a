"""What somebody finds who has a data folder and its key file: every byte, and what every encrypted text in it says."""

import re
from contextlib import suppress
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken

from triagebot.store.encryption import Cipher, DecryptionError

#: What an encrypted text looks like, wherever it lies; before it may stand which key it takes.
_ENCRYPTED = re.compile(rb"(?:(?<![0-9a-f])[0-9a-f]{16}:)?(gAAAA[A-Za-z0-9_-]{60,}={0,2})")


def bytes_in(folder: Path) -> bytes:
    return b"\n".join(file.read_bytes() for file in sorted(folder.rglob("*")) if file.is_file())


def opened(raw: bytes, cipher: Cipher) -> bytes:
    """`raw`, and behind it what is encrypted in it: with the key file, and with every key that is found in it, in
    whatever row or remains of one it lies."""
    texts = {match.decode() for match in _ENCRYPTED.findall(raw)}
    found = [raw]
    for text in texts:
        with suppress(DecryptionError):
            found.append(cipher.decrypt_bytes(text))
    keys = [Fernet(each) for each in found[1:] if re.fullmatch(rb"[A-Za-z0-9_-]{43}=", each)]
    for text in texts:
        for key in keys:
            with suppress(InvalidToken):
                found.append(key.decrypt(text))
    return b"\n".join(found)
