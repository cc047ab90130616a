"""An empty data folder, as `open_store` leaves it: made once a process and copied from then on, since bringing a new
database up to date takes longer than most tests. What is about opening makes its own."""

import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from triagebot.store import DATABASE, Store, open_store


def open_fresh(folder: Path, key_file: Path) -> Store:
    """`open_store`, where there is nothing yet in less time."""
    if not folder.exists() and not key_file.exists():
        kept = Path(_kept().name)
        folder.mkdir(mode=0o700, parents=True)
        key_file.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(kept / "data" / DATABASE, folder / DATABASE)
        shutil.copy(kept / "key", key_file)
    return open_store(folder, key_file=key_file)


@cache
def _kept() -> "TemporaryDirectory[str]":
    """The folder that is copied; it goes when the process ends."""
    folder = TemporaryDirectory(prefix="fresh-")
    open_store(Path(folder.name) / "data", key_file=Path(folder.name) / "key").close()
    return folder
