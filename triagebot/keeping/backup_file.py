"""The form of a backup file: a header that anybody can read, and behind it a tar archive that one key opens.

    triagebot backup 1\\n
    {"key": "…", "made_at": "…", "program": "…", "salt": "…", "schema": "…"}\\n
    pieces: 4 bytes of length (the highest bit marks the last piece), then so many bytes of AES-256-GCM ciphertext

- `key` is the fingerprint of the line of the key file that opens it, `schema` the revision of the database in it.
- The key of a file is made by HKDF-SHA256 (RFC 5869) from that line and the file's own salt. So the nonce of a piece is
  its number and whether it is the last: a file that was cut short, or whose pieces were changed, swapped or left out,
  is refused (the STREAM construction, Hoang, Reyhanitabar, Rogaway and Vizár 2015). The header is authenticated with
  every piece.
- Neither writing nor reading holds more than one piece in memory.
"""

import base64
import hashlib
import json
import secrets
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import IO

from triagebot.errors import StoreError
from triagebot.keeping.words import say

VERSION = 1
_MAGIC, _LONGEST_HEADER = b"triagebot backup ", 4096
_PIECE, _TAG = 1 << 20, 16
_LAST = 1 << 31


@dataclass(frozen=True, slots=True)
class Header:
    """`made_at` is ISO 8601 in UTC, `salt` hexadecimal."""

    key: str
    made_at: str
    program: str
    salt: str
    schema: str


def fingerprint(key: bytes) -> str:
    """What a line of a key file is called in public: 16 hexadecimal digits from which nobody finds the key."""
    return hashlib.sha256(b"triagebot key fingerprint\0" + base64.urlsafe_b64decode(key)).hexdigest()[:16]


class EncryptingFile:
    """What is written goes into `out`, encrypted. Without `close` the file counts as cut short."""

    def __init__(self, out: IO[bytes], key: bytes, made_at: str, program: str, schema: str) -> None:
        header = Header(fingerprint(key), made_at, program, secrets.token_hex(16), schema)
        line = json.dumps(asdict(header), sort_keys=True).encode()
        self._head = b"%s%d\n%s\n" % (_MAGIC, VERSION, line)
        self._out, self._pieces = out, _Pieces(key, header.salt, self._head)
        self._held = bytearray()
        out.write(self._head)

    def write(self, data: bytes) -> int:
        self._held += data
        while len(self._held) > _PIECE:
            self._put(bytes(self._held[:_PIECE]), last=False)
            del self._held[:_PIECE]
        return len(data)

    def close(self) -> None:
        self._put(bytes(self._held), last=True)

    def _put(self, piece: bytes, *, last: bool) -> None:
        encrypted = self._pieces.encrypt(piece, last=last)
        self._out.write((len(encrypted) | (_LAST if last else 0)).to_bytes(4, "big") + encrypted)


class DecryptingFile:
    """Reads what `EncryptingFile` wrote. Raises StoreError, naming `place`, for anything else."""

    def __init__(self, source: IO[bytes], place: object, keys: Sequence[bytes], head: bytes, header: Header) -> None:
        """`head` and `header` as `read_header` gave them; one of `keys` is the one that the header names."""
        key = next(key for key in keys if fingerprint(key) == header.key)
        self._source, self._place = source, place
        self._pieces = _Pieces(key, header.salt, head)
        self._held, self._ended = b"", False

    def read(self, size: int = -1) -> bytes:
        parts, missing = [], size
        while missing and (self._held or not self._ended):
            if not self._held:
                self._held = self._next()
                continue
            part = self._held if missing < 0 else self._held[:missing]
            self._held = self._held[len(part) :]
            parts.append(part)
            missing -= len(part) if missing > 0 else 0
        return b"".join(parts)

    def finish(self) -> None:
        """Reads what is left, so that a file that ends too early, or has something behind its end, is noticed."""
        while not self._ended:
            self._next()
        if self._source.read(1):
            raise self._damaged()

    def _next(self) -> bytes:
        length = int.from_bytes(self._exactly(4), "big")
        last, length = bool(length & _LAST), length & ~_LAST
        if not _TAG <= length <= _PIECE + _TAG:
            raise self._damaged()
        piece = self._pieces.decrypt(self._exactly(length), last=last)
        if piece is None:
            raise self._damaged()
        self._ended = last
        return piece

    def _exactly(self, size: int) -> bytes:
        data = self._source.read(size)
        if len(data) < size:
            raise StoreError(say("backup-cut-short", file=self._place))
        return data

    def _damaged(self) -> StoreError:
        return StoreError(say("backup-damaged", file=self._place))


def read_header(source: IO[bytes], place: object) -> tuple[bytes, Header]:
    """The header as it is written, and what it says. Raises StoreError for what is no backup, and for one of a newer
    form."""
    first = source.readline(len(_MAGIC) + 8)
    version = first.removeprefix(_MAGIC).strip()
    if not first.startswith(_MAGIC) or not version.isdigit():
        raise StoreError(say("backup-foreign", file=place))
    if int(version) > VERSION:
        raise StoreError(say("backup-newer-form", file=place))
    line = source.readline(_LONGEST_HEADER)
    try:
        header = Header(**json.loads(line))
        bytes.fromhex(header.salt)
    except (ValueError, TypeError):
        raise StoreError(say("backup-damaged", file=place)) from None
    return first + line, header


class _Pieces:
    def __init__(self, key: bytes, salt: str, head: bytes) -> None:
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM
        from cryptography.hazmat.primitives.hashes import SHA256
        from cryptography.hazmat.primitives.kdf.hkdf import HKDF

        made = HKDF(SHA256(), 32, bytes.fromhex(salt), b"triagebot backup 1").derive(base64.urlsafe_b64decode(key))
        self._cipher, self._head, self._count = AESGCM(made), head, 0

    def encrypt(self, piece: bytes, *, last: bool) -> bytes:
        return self._cipher.encrypt(self._nonce(last=last), piece, self._head)

    def decrypt(self, encrypted: bytes, *, last: bool) -> bytes | None:
        """None for what is not the next piece as it was written."""
        from cryptography.exceptions import InvalidTag

        try:
            return self._cipher.decrypt(self._nonce(last=last), encrypted, self._head)
        except InvalidTag:
            return None

    def _nonce(self, *, last: bool) -> bytes:
        nonce = self._count.to_bytes(11, "big") + bytes([last])
        self._count += 1
        return nonce
