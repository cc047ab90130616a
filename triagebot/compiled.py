"""What was compiled from data files, kept for the next start.

It lies in a `__pycache__`, as Python's own compiled modules do, and is trusted as they are: who can write there can
change the program. Where that folder cannot be written, or Python was told to write no bytecode, nothing is kept, and a
start takes longer.
"""

import os
import pickle
import sys
import tempfile
from collections.abc import Callable, Collection, Iterable
from contextlib import suppress
from hashlib import sha256
from importlib.util import cache_from_source
from pathlib import Path
from typing import TypeVar, cast

T = TypeVar("T")
#: So many are kept: a language of a topic takes two.
KEPT = 16
_DIGEST = sha256().digest_size


def compiled(name: str, texts: Iterable[str], code: Collection[Path], make: Callable[[], T]) -> T:
    """What `make` makes of the texts, by the modules in the folders `code` and below; made only where these texts and
    modules made nothing yet. What `make` raises is kept nowhere."""
    folder = Path(cache_from_source(__file__)).parent
    file = folder / f"{name}-{_digest(texts, code)[:32]}.pickle"
    found = _read(file)
    if found is not None:
        return cast(T, found)
    made = make()
    if not sys.dont_write_bytecode:
        with suppress(OSError):  # a folder that cannot be written is no fault
            _write(file, made)
    return made


def _digest(texts: Iterable[str], code: Iterable[Path]) -> str:
    digest = sha256(sys.version.encode())
    for text in texts:
        digest.update(sha256(text.encode()).digest())
    for module in sorted(each for folder in code for each in folder.rglob("*.py")):
        state = module.stat()
        digest.update(f"{module} {state.st_mtime_ns} {state.st_size}".encode())
    return digest.hexdigest()


def _read(file: Path) -> object | None:
    """None where nothing whole lies there."""
    try:
        data = file.read_bytes()
    except OSError:
        return None
    if sha256(data[_DIGEST:]).digest() != data[:_DIGEST]:
        return None
    return cast(object, pickle.loads(data[_DIGEST:]))


def _write(file: Path, made: object) -> None:
    data = pickle.dumps(made, pickle.HIGHEST_PROTOCOL)
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=file.parent, suffix=".part")
    with os.fdopen(handle, "wb") as part:
        part.write(sha256(data).digest() + data)
    os.chmod(name, 0o644)  # the program may run as another user than the one that set it up
    os.replace(name, file)
    kept = sorted(file.parent.glob("*.pickle"), key=lambda each: each.stat().st_mtime_ns)
    for old in kept[:-KEPT]:
        old.unlink(missing_ok=True)
